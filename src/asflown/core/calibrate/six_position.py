"""Calibration of an accelerometer by six positions, and of a gyro's scale by whole turns.

Twelve parameters: ``g = matrix @ raw + offset_term`` by linear least squares over six (or more) rest
positions. Source of the method: ST AN4508 rev 1 (June 2014), appendix A, "Least square method"; its digits
were not seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import means_of, student

Float = npt.NDArray[np.float64]

#: Directions of gravity's reaction in the usual six positions: +x, -x, +y, -y, +z, -z up.
SIX = np.array([[1.0, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]])


@dataclass(frozen=True, eq=False)
class SixPosition:
    """What turns raw readings into true ones: ``true = raw @ solution[:3] + solution[3]``.

    Attributes
    ----------
    solution
        (4, 3) least-squares solution of ``[raw 1] X = true``.
    offset
        (3,) what the sensor reads without load, in raw units: ``raw = gain @ true + offset``.
    gain
        (3, 3).
    residual
        Root mean square of what is left, in true units.
    """

    solution: Float
    offset: Float
    gain: Float
    residual: float

    def corrected(self, raw: Float) -> Float:
        """True readings (n, 3) of raw ones (n, 3)."""
        return np.asarray(raw @ self.solution[:3] + self.solution[3])


def six_position(raw: Float, true: Float) -> SixPosition:
    """Fit twelve parameters.

    Parameters
    ----------
    raw
        (k, 3) mean readings at rest, k >= 6.
    true
        (k, 3) what they should have been: gravity along the axis that points up.

    Raises
    ------
    ValueError
        For fewer than six positions, shapes that differ, or positions that leave a direction out.
    """
    if raw.shape != true.shape or raw.ndim != 2 or raw.shape[1] != 3 or raw.shape[0] < 6:
        raise ValueError(
            f"six positions or more of three axes are needed, got {raw.shape} against {true.shape}"
        )
    design = np.column_stack([raw, np.ones(raw.shape[0])])
    scale = np.abs(raw).max()
    if (
        not np.isfinite(design).all()
        or np.linalg.svd(design / [scale, scale, scale, 1], compute_uv=False)[-1] < 1e-3
    ):
        raise ValueError("the positions do not turn every axis both up and down; take all six")
    solution = np.linalg.lstsq(design, true, rcond=None)[0]
    left = true - design @ solution
    gain = np.linalg.inv(solution[:3].T)
    offset = -solution[3] @ np.linalg.inv(solution[:3])
    return SixPosition(np.asarray(solution, dtype=np.float64), offset, gain, float(np.sqrt(np.mean(left**2))))


def up_down(up: float, down: float, true: float = 1.0) -> tuple[float, float]:
    """Offset and scale of one axis from its reading up and down.

    Examples
    --------
    >>> offset, scale = up_down(1.07, -0.97)
    >>> round(offset, 9), round(scale, 9)
    (0.05, 1.02)
    """
    return (up + down) / 2, (up - down) / 2 / true


def position_means(accel: Float, pieces: Sequence[tuple[int, int]]) -> Float:
    """Means (k, 3) of the readings (3, n) over row ranges of rest."""
    return np.array([accel[:, first:last].mean(axis=1) for first, last in pieces])


def turned(rate: Float, rate_hz: float, bias: Float, seconds_of_rest: float) -> Measured:
    """Angle of a turn about one axis, rad: the rate (n,) integrated, less the bias read at rest.

    Parameters
    ----------
    bias
        (m,) the same rate at rest near the turn.
    seconds_of_rest
        s that the rest lasted.
    """
    route = "rate integrated, bias from rest"
    if seconds_of_rest < 1.0 or rate.size < 2:
        return unmeasured("no rest of a second next to the turn; hold still before turning", "rad", route)
    means = means_of(bias[None], seconds_of_rest)
    seconds = rate.size / rate_hz
    value = float(np.sum(rate - means.value[0]) / rate_hz)
    half = student(means.dof) * float(means.error[0]) * seconds
    return Measured(value, value - half, value + half, "rad", route)
