"""Which motor raises which axis: regression of the motors on the logged outputs of the rate controller."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.motors.mixer import GROUPS, MotorMixer, certainty_of, same
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]

#: Rows at most that are looked at (evenly picked: the relation has no memory).
PICKED = 24_000


def from_control(motors: Float, control: Float) -> MotorMixer:
    """The mixer of motors (motors, n) and controls (3, n), saturated rows left out."""
    n = motors.shape[1]
    if n < 200:
        return MotorMixer(None, route="controls", reason="fewer than 200 rows in flight; log a longer flight")
    motors, control, free = _picked_rows(motors, control)
    best: tuple[float, Float, Float, Float] | None = None
    for lag in (0, 1, 2):
        x, y = _centred_pair(motors, control, free, lag)
        gain, explained = _regressed(x, y)
        if best is None or explained > best[0] + 1e-4:
            best = (explained, gain, x, y)
    assert best is not None
    explained, gain, x, y = best
    quiet = [
        axis
        for axis, row, spread in zip(AXES, gain.T, x.std(axis=1), strict=True)
        if not np.abs(row).max() * spread > 1e-5
    ]
    if quiet:
        return MotorMixer(
            None,
            route="controls",
            reason=f"the {' and '.join(quiet)} control moved no motor; fly that axis a few times",
        )
    centred = gain - gain.mean(axis=0)
    matrix = np.linalg.pinv(centred)
    caveats = (
        ()
        if explained > 0.9
        else (f"the controls explain {100 * explained:.0f} % of the differences of the motors",)
    )
    parts = np.array_split(np.arange(x.shape[1]), GROUPS)
    agreeing = sum(same(_regressed(x[:, part], y[:, part])[0].T, gain.T) for part in parts)
    return MotorMixer(matrix, certainty_of(agreeing, GROUPS), "controls", caveats=caveats)


def _picked_rows(motors: Float, control: Float) -> tuple[Float, Float, npt.NDArray[np.bool_]]:
    """Runs of eight rows, evenly picked, and which rows have no motor at its end."""
    n = motors.shape[1]
    step = max(1, n // PICKED)
    if step > 1:
        starts = np.arange(0, n - 8, 8 * step)
        rows = (starts[:, None] + np.arange(8)).ravel()
        motors, control = motors[:, rows], control[:, rows]
    low, high = motors.min(), motors.max()
    margin = 0.005 * (high - low)
    free = ((motors > low + margin) & (motors < high - margin)).all(axis=0)
    free &= np.isfinite(control).all(axis=0)
    return motors, control, free


def _centred_pair(
    motors: Float, control: Float, free: npt.NDArray[np.bool_], lag: int
) -> tuple[Float, Float]:
    n = motors.shape[1]
    keep = free[lag:]
    x = control[:, : n - lag][:, keep]
    y = motors[:, lag:][:, keep]
    y = y - y.mean(axis=0)
    return x - x.mean(axis=1, keepdims=True), y - y.mean(axis=1, keepdims=True)


def _regressed(x: Float, y: Float) -> tuple[Float, float]:
    """Gain (motors, 3) of y on x, and the share of y it explains."""
    if x.shape[1] < 10:
        return np.zeros((y.shape[0], 3)), 0.0
    scale = np.sqrt(np.mean(x**2, axis=1))
    scale[scale == 0] = 1.0
    z = x / scale[:, None]
    square = z @ z.T / z.shape[1]
    gain = np.linalg.lstsq(square, z @ y.T / z.shape[1], rcond=1e-9)[0].T
    total = float(np.sum(y**2))
    left = float(np.sum((y - gain @ z) ** 2))
    return gain / scale, 1 - left / total if total > 0 else 0.0
