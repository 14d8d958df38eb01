"""Allan deviation of the gyro on the ground, where the rest was long enough."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import unmeasured
from asflown.core.signal.allan import AllanCurve, allan_deviation
from asflown.core.signal.allan_reading import AllanReading, read_off

Float = npt.NDArray[np.float64]

#: s of unbroken rest below which no Allan figures are given (common practice, no source).
SHORTEST = 600.0
#: Samples a second kept (means), so that an hour costs little.
WORKING_RATE = 100.0


@dataclass(frozen=True, eq=False)
class GyroAllan:
    """Roll, pitch, yaw.

    Attributes
    ----------
    readings
        White noise, bias instability and bias walk of each axis (IEEE Std 952).
    curves
        The deviations they were read off; empty where the rest was too short.
    """

    readings: tuple[AllanReading, AllanReading, AllanReading]
    curves: tuple[AllanCurve, ...]


def gyro_allan(rates: Float, rate_hz: float) -> GyroAllan:
    """Allan figures of the three rates (3, n), rad/s, of one unbroken rest with motors stopped.

    Averaging whole numbers of rows first changes no Allan deviation at the averaging times that remain.
    """
    seconds = rates.shape[1] / rate_hz
    if seconds < SHORTEST:
        why = (
            f"{seconds:.0f} s at rest are too short for an Allan deviation: log {SHORTEST / 60:.0f} minutes"
            " or more on the ground, motors stopped"
        )
        nothing = AllanReading(
            unmeasured(why, "rad/s/√Hz"), unmeasured(why, "rad/s"), unmeasured(why, "rad/s/√s")
        )
        return GyroAllan((nothing, nothing, nothing), ())
    step = max(1, int(rate_hz / WORKING_RATE))
    n = rates.shape[1] // step * step
    slowed = rates[:, :n].reshape(3, -1, step).mean(axis=2, dtype=np.float64)
    curves = tuple(allan_deviation(row, rate_hz / step) for row in slowed)
    return GyroAllan((read_off(curves[0]), read_off(curves[1]), read_off(curves[2])), curves)
