"""Scale and offset of a shown voltage or current from meter readings: a weighted straight line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.calibrate.least_squares import solve
from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import student

Float = npt.NDArray[np.float64]


@dataclass(frozen=True)
class MeterFit:
    """``true = scale * shown + offset``.

    Attributes
    ----------
    scale, offset
        With 95 % intervals: Student's t on the readings' own scatter where there are three or more, else
        from the meter's stated error alone.
    scale_alone
        ``true = scale_alone * shown``: for aircraft that take a scale and no offset.
    reach
        Half the line's own 95 % interval at the worse end of the readings; ``None`` where there is none.
    residual
        Standard deviation of what is left, in the meter's unit; ``None`` where two readings leave nothing.
    """

    scale: Measured
    offset: Measured
    scale_alone: Measured
    reach: float | None
    residual: float | None
    readings: int


def meter_fit(shown: Float, true: Float, error: Float | None = None, unit: str = "V") -> MeterFit:
    """Fit a straight line through meter readings.

    Parameters
    ----------
    shown, true
        (k,) what the aircraft shows and what the meter says, in ``unit``.
    error
        (k,) standard error of each meter reading; ``None``: all alike.

    Raises
    ------
    ValueError
        For fewer than two readings, shapes that differ, errors that are not above 0.

    Notes
    -----
    Weighted least squares by QR of the weighted design. With errors stated and three readings or more the
    intervals rest on the scatter that is seen (the stated errors then weigh the readings and no more).
    """
    if shown.shape != true.shape or shown.ndim != 1 or shown.size < 2:
        raise ValueError(f"two readings or more are needed, got {shown.shape} against {true.shape}")
    if error is not None and (error.shape != shown.shape or not (error > 0).all()):
        raise ValueError("each reading needs an error above 0")
    if not np.isfinite([shown, true]).all():
        raise ValueError("a reading is no number")
    if np.ptp(shown) == 0:
        why = "all readings were taken at the same value: take one near empty and one near full"
        return _unknown(why, unit, shown.size)
    weight = np.ones(shown.size) if error is None else 1.0 / error
    centre = float(np.average(shown, weights=weight**2))
    design = np.column_stack([np.ones(shown.size), shown - centre]) * weight[:, None]
    solved = solve(design, true * weight)
    level, scale = solved.value
    left = true - (level + scale * (shown - centre))
    dof, shape = solved.dof, solved.shape
    offset = level - scale * centre
    spread = np.array([shape[0, 0] + centre**2 * shape[1, 1], shape[1, 1]])
    if dof == 0 and error is None:
        why = "two readings without a stated error of the meter give no interval: take a third"
        return _unknown(why, unit, shown.size)
    variance = 1.0 if dof == 0 else solved.variance
    times = 1.959963984540054 if dof == 0 else student(dof)
    half = times * np.sqrt(variance * spread)
    route = "the meter's stated error" if dof == 0 else "scatter of the readings"
    residual = float(np.sqrt(np.sum(left**2) / dof)) if dof else None
    ends = np.array([shown.min(), shown.max()]) - centre
    reach = float(times * np.sqrt(variance * np.max(shape[0, 0] + ends**2 * shape[1, 1])))
    return MeterFit(
        Measured(float(scale), float(scale - half[1]), float(scale + half[1]), "1", route),
        Measured(float(offset), float(offset - half[0]), float(offset + half[0]), unit, route),
        _alone(shown, true, weight, is_stated=error is not None),
        reach,
        residual,
        shown.size,
    )


def _unknown(why: str, unit: str, readings: int) -> MeterFit:
    return MeterFit(unmeasured(why), unmeasured(why, unit), unmeasured(why), None, None, readings)


def _alone(shown: Float, true: Float, weight: Float, *, is_stated: bool) -> Measured:
    """A line through 0: scatter has one degree of freedom more."""
    x, y = shown * weight, true * weight
    square = float(x @ x)
    scale = float(x @ y) / square
    dof = shown.size - 1
    by_scatter = not is_stated or dof >= 2
    variance = float(np.sum((y - scale * x) ** 2)) / dof if by_scatter else 1.0
    times = student(dof) if by_scatter else 1.959963984540054
    half = float(times * np.sqrt(variance / square))
    return Measured(scale, scale - half, scale + half, "1", "a line through 0")
