"""Mean power densities over a flight with intervals that hold where the vibration comes and goes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from asflown.core.signal.allan import deviation_interval
from asflown.core.vibration.frames import Frames
from asflown.core.vibration.levels import unit_of
from asflown.core.vibration.result import Density

FloatArray = npt.NDArray[np.float64]

_GROUPS = 24  # stretches of flight whose means are compared
_SMOOTH = 9  # bins over which the scatter is averaged


def densities(frames: Frames, names: tuple[str, ...]) -> Mapping[str, Density]:
    """Density of every channel."""
    return {name: _density(name, frames, row) for row, name in enumerate(names)}


def _density(name: str, frames: Frames, row: int) -> Density:
    power = frames.power[row]
    mean = power.mean(axis=0, dtype=np.float64)
    averages = _averages(power, mean)
    low, high = gamma_interval(averages)
    return Density(
        name,
        f"({unit_of(name)})2/Hz",
        frames.frequency,
        mean,
        mean * low,
        mean * high,
        averages,
    )


def _averages(power: npt.NDArray[np.float32], mean: FloatArray) -> FloatArray:
    """Independent averages (nf,) the mean is worth, from the scatter of the means of stretches."""
    count = power.shape[0]
    groups = min(_GROUPS, count)
    most = max(1.0, count / (1.0 + 2.0 / 36.0))  # half-overlapped Hann windows share 1/6 of their amplitude
    if groups < 4:
        return np.full(mean.size, 1.0)
    size = count // groups
    means = power[: groups * size].reshape(groups, size, -1).mean(axis=1, dtype=np.float64)
    middle = means.mean(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        relative = means.var(axis=0, ddof=1) / groups / middle**2
    relative = np.where(np.isfinite(relative), relative, 1.0)
    kernel = np.ones(_SMOOTH)
    # the mean of neighbours, one-sided at the ends
    smooth = np.convolve(relative, kernel, "same") / np.convolve(np.ones(mean.size), kernel, "same")
    return np.asarray(np.clip(1.0 / np.maximum(smooth, 1e-12), 1.0, most))


def gamma_interval(averages: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Factors (low, high) of the 95 % interval of a mean power worth so many averages (chi-square)."""
    low, high = deviation_interval(np.ones(averages.shape), 2.0 * averages)
    return low**2, high**2
