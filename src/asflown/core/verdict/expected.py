"""Measured against predicted: whether an aircraft changed as its settings say.

Changes are held against changes, so that what the baseline has wrong counts on both sides alike; that it is
the same error on both sides is not used, which makes intervals wider than they need be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from asflown.core.behaviour.predict.result import BY_DIFFERENCE, UNITS, Prediction, Stability
from asflown.core.measured import Measured
from asflown.core.verdict.estimate import HALF_WIDTH
from asflown.core.verdict.judge import Judged, Verdict
from asflown.core.verdict.margins import Margin, Scale
from asflown.core.verdict.tost import LEVEL, Tested, stepped_down, tested, welch


class Agreement(StrEnum):
    """Whether a change is the predicted one, within the margin of its quantity."""

    AS_PREDICTED = "as predicted"
    OTHERWISE = "not as predicted"
    NOT_TOLD = "not told"


@dataclass(frozen=True)
class Expected:
    """One quantity of one axis.

    Attributes
    ----------
    judged
        As measured.
    predicted
        Change on the margin's scale: value, and ends of its 95 % interval.
    test
        Of the measured change less the predicted one, on the margin's scale.
    beyond
        Whether the predicted change alone lies beyond the margin.
    """

    axis: str
    judged: Judged
    predicted: tuple[float, float, float]
    test: Tested
    agreement: Agreement

    @property
    def beyond(self) -> bool:
        """Whether the settings alone were predicted to take it out of its margin."""
        margin = self.judged.margin
        return not margin.low < self.predicted[0] < margin.high


def expected(verdict: Verdict, predictions: Mapping[str, Prediction]) -> tuple[Expected, ...]:
    """Hold every measured change of an axis against the predicted one.

    Parameters
    ----------
    predictions
        By axis, from a flight before to the settings that were flown after.

    Notes
    -----
    As predicted: two one-sided tests at 5 % against the quantity's margin. Otherwise: beyond the margin, with
    p-values stepped down (Holm) over all that are held against a prediction.
    """
    found = [one for judged in verdict.quantities if (one := _held(judged, predictions)) is not None]
    other = stepped_down([one.test.p_beyond for one in found])
    return tuple(
        replace(one, agreement=Agreement.OTHERWISE) if place in other else one
        for place, one in enumerate(found)
    )


def not_predicted(predictions: Mapping[str, Prediction]) -> dict[str, str]:
    """By axis, why its changes cannot be held against the prediction."""
    return {
        axis: f"{axis} was predicted to be {one.after.stability}"
        for axis, one in predictions.items()
        if one.after.stability is Stability.UNSTABLE
    }


def explained(found: Iterable[Expected], axis: str) -> bool | None:
    """Whether the settings explain that an axis differs; ``None`` where nothing says.

    They do where a figure that differs was predicted to, they do not where every one of them changed
    otherwise.
    """
    different = [one for one in found if one.axis == axis and one.judged.is_different]
    if not different:
        return None
    if any(one.beyond and one.agreement is not Agreement.OTHERWISE for one in different):
        return True
    return False if all(one.agreement is Agreement.OTHERWISE for one in different) else None


def _held(judged: Judged, predictions: Mapping[str, Prediction]) -> Expected | None:
    parts = judged.quantity.split(".")
    if parts[0] != "axes" or len(parts) != 3 or judged.test is None or parts[1] not in predictions:
        return None
    change = predictions[parts[1]].change.get(parts[2])
    moved = None if change is None else _on_scale(parts[2], change, judged.margin)
    if moved is None:
        return None
    value, low, high = moved
    error = max(value - low, high - value) / HALF_WIDTH
    measured, margin = judged.test, judged.margin
    dof = welch([(measured.error**2, measured.dof), (error**2, math.inf)])
    test = tested(
        measured.difference - value, math.hypot(measured.error, error), dof, margin.low, margin.high
    )
    agreement = Agreement.AS_PREDICTED if test.p < LEVEL else Agreement.NOT_TOLD
    return Expected(parts[1], judged, moved, test, agreement)


def _on_scale(name: str, change: Measured, margin: Margin) -> tuple[float, float, float] | None:
    """A predicted change on the margin's scale; ``None`` where it has no place there."""
    if change.value is None or change.low is None or change.high is None or name not in UNITS:
        return None
    if (name in BY_DIFFERENCE) != (margin.scale is Scale.DIFFERENCE):
        return None
    if name not in BY_DIFFERENCE and change.low <= 0.0:
        return None
    value, low, high = (margin.of(one) for one in (change.value, change.low, change.high))
    return value, low, high
