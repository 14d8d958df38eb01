"""What is predicted of one axis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from asflown.core.behaviour.response.result import Curve, StepBand
from asflown.core.measured import Measured

#: Route of predicted numbers.
PREDICTED = "predicted"
#: The figures, with their units, in the order shown.
UNITS: Mapping[str, str] = {
    "bandwidth": "Hz",
    "bandwidth_gain": "Hz",
    "phase_delay": "s",
    "crossover": "Hz",
    "gain_margin": "dB",
    "phase_margin": "deg",
    "peak_sensitivity": "1",
    "overshoot": "1",
    "rise_time": "s",
}
#: Figures whose change is a difference; that of the others is a ratio.
BY_DIFFERENCE = frozenset({"gain_margin", "phase_margin", "overshoot"})


class Stability(StrEnum):
    """Whether the loop holds."""

    STABLE = "stable"
    UNSTABLE = "unstable"
    UNSURE = "not sure to be stable"


@dataclass(frozen=True, eq=False)
class Answer:
    """One loop: figures with 95 % intervals, and the curves they were read from.

    Attributes
    ----------
    unstable_share
        Of the drawn loops.
    """

    figures: Mapping[str, Measured]
    stability: Stability
    unstable_share: float
    response: Curve | None = None
    loop: Curve | None = None
    step: StepBand | None = None


@dataclass(frozen=True, eq=False)
class Prediction:
    """One axis before and after.

    Attributes
    ----------
    change
        By figure, after over before, or after less before (`BY_DIFFERENCE`).
    noise
        What white gyro noise does to the motors through the closed loop, after over before.
    remarks
        What was taken, one sentence each.
    """

    axis: str
    before: Answer
    after: Answer
    change: Mapping[str, Measured]
    noise: Measured
    remarks: tuple[str, ...] = field(default=())
