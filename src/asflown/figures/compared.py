"""Figures of a prediction and of a verdict: every axis before and after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from asflown.core.behaviour.predict.result import Prediction
from asflown.core.behaviour.response.result import AxisResponse, Curve, RouteFigures, StepBand
from asflown.core.measured import Measured
from asflown.figures.before_after import Answering, Side, before_after_figures
from asflown.figures.figure import Figure, Look


class Allowed(Protocol):
    """How far the margins let the step of one axis move, as `before_after_figures` takes it."""

    @property
    def peak(self) -> float | None:
        """Highest peak, share of the command."""

    @property
    def reached(self) -> tuple[float, float] | None:
        """Earliest and latest moment at which 90 % is reached, s."""


def predicted_figures(
    axes: Mapping[str, Prediction],
    allowed: Mapping[str, Allowed] | None = None,
    evidence: tuple[str, ...] = (),
) -> tuple[Figure, ...]:
    """Figures of a prediction: as it flew before, and as it is predicted to fly after."""
    made: list[Figure] = []
    for axis, one in axes.items():
        sides = (Side("before", Look.BEFORE, one.before), Side("after, predicted", Look.AFTER, one.after))
        made += _figures(axis, sides, allowed, evidence=evidence)
    return tuple(made)


def judged_figures(
    before: Mapping[str, AxisResponse],
    after: Mapping[str, AxisResponse],
    predicted: Mapping[str, Prediction] | None = None,
    allowed: Mapping[str, Allowed] | None = None,
    *,
    says: str = "",
    evidence: tuple[str, ...] = (),
) -> tuple[Figure, ...]:
    """Figures of a verdict: a flight before, a flight after, and what was predicted of it.

    Parameters
    ----------
    says
        Which flights are drawn.
    """
    made: list[Figure] = []
    for axis in before:
        if axis not in after:
            continue
        sides = [
            Side("before", Look.BEFORE, _told(before[axis])),
            Side("after", Look.AFTER, _told(after[axis])),
        ]
        if predicted is not None and axis in predicted:
            sides.append(Side("predicted", Look.PREDICTED, predicted[axis].after, is_short=True))
        made += _figures(axis, tuple(sides), allowed, says=says, evidence=evidence)
    return tuple(made)


def _figures(
    axis: str,
    sides: tuple[Side, ...],
    allowed: Mapping[str, Allowed] | None,
    *,
    says: str = "",
    evidence: tuple[str, ...] = (),
) -> tuple[Figure, ...]:
    limits = None if allowed is None else allowed.get(axis)
    peak, reached = (None, None) if limits is None else (limits.peak, limits.reached)
    return before_after_figures(axis, sides, peak=peak, reached=reached, says=says, evidence=evidence)


@dataclass(frozen=True)
class _Told:
    """A kept flight's route with its step's figures among the others."""

    route: RouteFigures

    @property
    def figures(self) -> Mapping[str, Measured]:
        steps = {"overshoot": self.route.overshoot, "rise_time": self.route.rise_time}
        return {**self.route.figures, **{name: one for name, one in steps.items() if one is not None}}

    @property
    def response(self) -> Curve | None:
        return self.route.response

    @property
    def loop(self) -> Curve | None:
        return self.route.loop

    @property
    def step(self) -> StepBand | None:
        return self.route.step


def _told(of: AxisResponse) -> Answering:
    return _Told(next(iter(of.routes.values())))
