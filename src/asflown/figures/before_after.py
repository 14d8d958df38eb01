"""Before and after over each other: the step with its margins, and the responses with their bands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

from asflown.core.behaviour.response.result import Curve, StepBand
from asflown.core.measured import Measured
from asflown.figures.figure import Axis, Figure, Look, Mark, Series
from asflown.figures.flight_numbers import floats, plain, said

_FREQUENCY = Axis("frequency", "Hz", is_log=True)
_GREYED = "too little command to show it: the model goes on here"
_PARTS = (("gain", "dB", Mark("gain of one", y=0.0)), ("phase", "deg", Mark("-180 deg", y=-180.0)))
#: Figures that a caption of each response says, with their words.
_SAID = {
    "response": (("bandwidth", "bandwidth"), ("phase_delay", "phase delay")),
    "loop": (("crossover", "crossover"), ("phase_margin", "phase margin"), ("gain_margin", "gain margin")),
}
_WHAT = {"response": "rate over command", "loop": "loop"}


class Answering(Protocol):
    """One loop: its figures and the curves they were read from."""

    @property
    def figures(self) -> Mapping[str, Measured]:
        """With 95 % intervals."""

    @property
    def response(self) -> Curve | None:
        """Rate over command."""

    @property
    def loop(self) -> Curve | None:
        """Broken at the motor command."""

    @property
    def step(self) -> StepBand | None:
        """Rate after a step of the command."""


@dataclass(frozen=True)
class Side:
    """One side of the comparison.

    Attributes
    ----------
    name
        What stands at its line.
    is_short
        Whether it is drawn without its band, and captions leave its figures out.
    """

    name: str
    look: Look
    answer: Answering
    is_short: bool = False


def before_after_figures(
    axis: str,
    sides: tuple[Side, ...],
    *,
    peak: float | None = None,
    reached: tuple[float, float] | None = None,
    says: str = "",
    evidence: tuple[str, ...] = (),
) -> tuple[Figure, ...]:
    """Step, rate over command and loop of one axis, all sides in each figure.

    Parameters
    ----------
    peak
        Highest peak of the step within its margin, share of the command.
    reached
        Earliest and latest moment within the margin at which 90 % is reached, s.
    says
        Which flights are drawn, for the captions.
    """
    drawn = f"; drawn: {says}" if says else ""
    made = [*_step(axis, sides, (peak, reached), drawn, evidence)]
    for what in ("response", "loop"):
        made += _bode(axis, sides, what, drawn, evidence)
    return tuple(made)


def _step(
    axis: str,
    sides: tuple[Side, ...],
    allowed: tuple[float | None, tuple[float, float] | None],
    drawn: str,
    evidence: tuple[str, ...],
) -> Iterator[Figure]:
    peak, reached = allowed
    lines = [
        Series(
            side.name,
            floats(step.time),
            floats(step.answer),
            side.look,
            () if side.is_short else floats(step.low),
            () if side.is_short else floats(step.high),
        )
        for side in sides
        if (step := side.answer.step) is not None
    ]
    if not lines:
        return
    if reached is not None:
        lines.append(Series("margin of the rise", reached, (0.9, 0.9), Look.MARGIN))
    marks = [Mark("command", y=1.0)] + ([] if peak is None else [Mark("margin of the peak", y=peak)])
    yield Figure(
        title=f"{axis.capitalize()}, step of the command, before and after",
        x=Axis("time", "s"),
        y=Axis("rate over command", "1"),
        series=tuple(lines),
        marks=tuple(marks),
        caption=(
            f"{axis.capitalize()} rate after a step of the command, with 95 % bands:"
            f" {_figures(sides, (('overshoot', 'overshoot'), ('rise_time', 'rise time')))}"
            f"{_margins_said(peak, reached)}{drawn}."
        ),
        evidence=evidence,
    )


def _margins_said(peak: float | None, reached: tuple[float, float] | None) -> str:
    made = []
    if peak is not None:
        made.append(f"the peak may come to {plain(peak)}")
    if reached is not None:
        first, last = reached
        made.append(f"90 % may be reached from {plain(first)} to {plain(last)} s after a start like before")
    return f"; within the margins {' and '.join(made)}" if made else ""


def _bode(
    axis: str, sides: tuple[Side, ...], what: str, drawn: str, evidence: tuple[str, ...]
) -> Iterator[Figure]:
    curves = [(side, curve) for side in sides if (curve := getattr(side.answer, what)) is not None]
    if not curves:
        return
    for name, unit, level in _PARTS:
        yield Figure(
            title=f"{axis.capitalize()}, {_WHAT[what]}, before and after: {name}",
            x=_FREQUENCY,
            y=Axis(name, unit),
            series=tuple(_line(side, curve, name) for side, curve in curves),
            marks=(level,),
            caption=(
                f"{name.capitalize()} of the {axis} {_WHAT[what]}, with 95 % bands:"
                f" {_figures(sides, _SAID[what])}{drawn}."
            ),
            evidence=evidence,
        )


def _line(side: Side, curve: Curve, part: str) -> Series:
    return Series(
        side.name,
        floats(curve.frequencies),
        floats(getattr(curve, part)),
        side.look,
        () if side.is_short else floats(getattr(curve, f"{part}_low")),
        () if side.is_short else floats(getattr(curve, f"{part}_high")),
        tuple(not bool(one) for one in curve.excited),
        _GREYED,
    )


def _figures(sides: tuple[Side, ...], wanted: tuple[tuple[str, str], ...]) -> str:
    """``bandwidth 5.6 Hz (5 to 7) before, 6.1 Hz (5.5 to 7.4) after``."""
    told = [side for side in sides if not side.is_short]
    return "; ".join(
        f"{words} {', '.join(f'{_known(side, name)} {side.name}' for side in told)}" for name, words in wanted
    )


def _known(side: Side, name: str) -> str:
    number = side.answer.figures.get(name)
    return "not known" if number is None else said(number)
