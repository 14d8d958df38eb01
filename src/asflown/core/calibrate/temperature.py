"""How a gyro's bias goes with temperature, where the temperature moved enough."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import means_of, student

Float = npt.NDArray[np.float64]

#: K the temperature must move by (common practice, no source).
ENOUGH = 5.0


def temperature_slopes(rates: Float, temperature: Float, rate_hz: float) -> tuple[Measured, ...]:
    """Slope of each rate (3, n) at rest on temperature (n,), rad/s for a kelvin.

    Notes
    -----
    Least squares; the error is that of a mean of residual times distance from the mean temperature, which
    allows for residuals that remember (:func:`asflown.core.signal.mean_error.means_of`).
    """
    unit, route = "rad/s/K", "least squares at rest, slow residuals allowed for"
    good = np.isfinite(temperature)
    moved = float(np.ptp(temperature[good])) if good.any() else 0.0
    if moved < ENOUGH:
        why = (
            f"the temperature moved by {moved:.1f} K alone: log from cold until warm, {ENOUGH:.0f} K or more"
        )
        return (unmeasured(why, unit),) * 3
    rows, from_mean = rates[:, good], temperature[good] - temperature[good].mean()
    square = float(from_mean @ from_mean)
    slopes = (rows - rows.mean(axis=1, keepdims=True)) @ from_mean / square
    left = rows - rows.mean(axis=1, keepdims=True) - slopes[:, None] * from_mean
    means = means_of(left * from_mean, rows.shape[1] / rate_hz)
    # the fit took one slow shape out of the residuals that their scatter is read from
    error = means.error * np.sqrt(means.dof / (means.dof - 1))
    half = student(means.dof - 1) * error * rows.shape[1] / square
    return tuple(
        Measured(float(s), float(s - h), float(s + h), unit, route) for s, h in zip(slopes, half, strict=True)
    )
