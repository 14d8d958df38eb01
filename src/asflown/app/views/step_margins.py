"""How far the margins let a step answer move: what is drawn beside one before and one after."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.core.verdict.margins import DEFAULTS, Margin, Scale, margin_of

if TYPE_CHECKING:
    from asflown.app.predict import Predicted
    from asflown.core.behaviour.response.result import AxisResponse, StepBand
    from asflown.core.measured import Measured

#: Share of the command at which a rise ends.
REACHED = 0.9


@dataclass(frozen=True, slots=True)
class StepMargins:
    """Margins of overshoot and rise time round the answer before.

    Attributes
    ----------
    peak
        Highest peak within the margin, share of the command; ``None`` where the overshoot is not known.
    reached
        Earliest and latest moment, s, at which 90 % is reached within the margin of the rise time, by an
        answer that starts like the one before; ``None`` where the rise is not known.
    """

    peak: float | None
    reached: tuple[float, float] | None


def step_margins(
    axis: str,
    figures: Mapping[str, Measured],
    step: StepBand | None,
    margins: Sequence[Margin] = DEFAULTS,
) -> StepMargins:
    """Margins of one axis round its answer before.

    Parameters
    ----------
    figures
        ``overshoot`` and ``rise_time`` before.
    step
        The answer before.
    """
    over, rise = (figures.get(name) for name in ("overshoot", "rise_time"))
    allowed = {name: margin_of(f"axes.{axis}.{name}", margins) for name in ("overshoot", "rise_time")}
    peak = None
    if over is not None and over.value is not None and (margin := allowed["overshoot"]) is not None:
        peak = 1.0 + over.value + margin.high
    reached = None
    at = None if step is None else _reaches(step)
    if at is not None and rise is not None and rise.value is not None and (margin := allowed["rise_time"]):
        reached = (at + _more(rise.value, margin, margin.low), at + _more(rise.value, margin, margin.high))
    return StepMargins(peak, reached)


def _more(value: float, margin: Margin, edge: float) -> float:
    return value * math.expm1(edge) if margin.scale is Scale.RATIO else edge


def _reaches(step: StepBand) -> float | None:
    """When the answer first reaches 90 % of the command, s, between its samples."""
    time, answer = [float(t) for t in step.time], [float(y) for y in step.answer]
    for i in range(1, len(time)):
        if answer[i - 1] < REACHED <= answer[i]:
            part = (REACHED - answer[i - 1]) / (answer[i] - answer[i - 1])
            return time[i - 1] + part * (time[i] - time[i - 1])
    return None


def margins_of_flight(
    axes: Mapping[str, AxisResponse], margins: Sequence[Margin] = DEFAULTS
) -> dict[str, StepMargins]:
    """Margins round the answers of a flight."""
    made = {}
    for axis, of in axes.items():
        route = next(iter(of.routes.values()))
        steps = {"overshoot": route.overshoot, "rise_time": route.rise_time}
        made[axis] = step_margins(
            axis, {name: one for name, one in steps.items() if one is not None}, route.step, margins
        )
    return made


def margins_of_prediction(made: Predicted) -> dict[str, StepMargins]:
    """The usual margins round the answers before of a prediction."""
    return {axis: step_margins(axis, one.before.figures, one.before.step) for axis, one in made.axes.items()}
