"""The mean of a signal that remembers its past, with an interval that allows for it.

Neighbouring samples of a flight are not independent, so the plain ``sd / sqrt(n)`` is far too small. The
long-run variance is taken from the lowest cosine coefficients of the series, which are nearly independent and
as wide as the mean's own error; with B of them the t distribution has B degrees of freedom.
Source: E. Lazarus, D. J. Lewis, J. H. Stock, M. W. Watson, "HAR inference: recommendations for practice",
J. Business & Economic Statistics 36(4), 2018 (equal-weighted cosine estimator; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured

Float = npt.NDArray[np.float64]

#: Hz up to which a signal in steady flight is taken to be white (slower memory needs a longer record).
WHITE_BELOW = 0.1
FEWEST, MOST = 4, 24
#: Points at most that the coefficients are computed from (means of whole numbers of samples).
POINTS = 4096


@dataclass(frozen=True, eq=False)
class Means:
    """Means of several signals and their joint error.

    Attributes
    ----------
    value
        (k,) means.
    covariance
        (k, k) of the means.
    dof
        Degrees of freedom of the covariance.
    """

    value: Float
    covariance: Float
    dof: int

    @property
    def error(self) -> Float:
        """(k,) standard errors."""
        return np.sqrt(np.diagonal(self.covariance))

    def of(self, weights: Float) -> Means:
        """Means of (j, k) weighted sums of the signals."""
        return Means(weights @ self.value, weights @ self.covariance @ weights.T, self.dof)

    def measured(self, place: int, unit: str, route: str, caveats: tuple[str, ...] = ()) -> Measured:
        """One of them with its 95 % interval."""
        value = float(self.value[place])
        half = student(self.dof) * float(self.error[place])
        return Measured(value, value - half, value + half, unit, route, caveats=caveats)


def averaged(rows: npt.NDArray[np.floating[Any]], step: int) -> Float:
    """Means (…, n // step) over whole numbers of samples of rows (…, n), as float64."""
    n = rows.shape[-1] // step
    if step == 1:
        return np.asarray(rows, dtype=np.float64)
    shaped = rows[..., : n * step].reshape(*rows.shape[:-1], n, step)
    return np.asarray(shaped @ np.full(step, 1 / step, dtype=rows.dtype), dtype=np.float64)


def averaged_where(rows: Float, rate_hz: float, where: npt.NDArray[np.bool_]) -> Float:
    """Means (k, m) over a fiftieth of a second of rows (k, n), only where the whole of it is true in (n,)."""
    step = max(1, int(rate_hz / 50.0))
    count = where.size // step
    whole = where[: count * step].reshape(count, step).all(axis=1)
    return averaged(rows, step)[:, whole]


def bounds(measured: Measured | None) -> tuple[float, float, float] | None:
    """Value, low and high of a measured number, ``None`` where there is no value."""
    if measured is None or measured.value is None or measured.low is None or measured.high is None:
        return None
    return measured.value, measured.low, measured.high


def student(dof: float, share: float = 0.95) -> float:
    """Two-sided quantile of Student's t: how many standard errors hold a share of the draws."""
    from scipy.special import stdtrit

    return float(stdtrit(dof, 0.5 + 0.5 * share))


def means_of(rows: Float, seconds: float, white_below: float = WHITE_BELOW) -> Means:
    """Means of signals (k, n) sampled over ``seconds`` together.

    Raises
    ------
    ValueError
        For fewer than 2 * `FEWEST` samples.
    """
    n = rows.shape[1]
    if n < 2 * FEWEST:
        raise ValueError(f"{n} samples are too few for a mean with an error, {2 * FEWEST} are needed")
    step = max(1, n // POINTS)
    points = n // step
    slowed = averaged(rows, step)
    count = int(np.clip(2 * seconds * white_below, FEWEST, min(MOST, points // 2)))
    order = np.arange(1, count + 1)[:, None]
    cosines = np.sqrt(2.0) * np.cos(np.pi * order * (np.arange(points) + 0.5) / points)
    centred = slowed - slowed.mean(axis=1, keepdims=True)
    parts = centred @ cosines.T / points
    parts /= np.sqrt(_lost(centred, seconds / points, np.arange(1, count + 1) / (2 * seconds)))[:, None]
    return Means(slowed.mean(axis=1), parts @ parts.T / count, count)


def _lost(centred: Float, step: float, frequencies: Float) -> Float:
    """(k,) by how much a signal's power has already fallen at the coefficients' frequencies.

    Taken as a first-order signal whose memory is the time at which its autocorrelation falls below 1/e.
    """
    points = centred.shape[1]
    spectrum = np.fft.rfft(centred, 2 * points, axis=1)
    together = np.fft.irfft(np.abs(spectrum) ** 2, axis=1)[:, : points // 2]
    fallen = together < together[:, :1] / np.e
    memory = np.where(fallen.any(axis=1), fallen.argmax(axis=1) - 0.5, points / 2) * step
    share: Float = np.mean(1 / (1 + (2 * np.pi * frequencies * memory[:, None]) ** 2), axis=1)
    return np.maximum(share, 0.25)


def block_length(residual: Float, least: int, most: int) -> int:
    """Samples of a block long enough that blocks of this residual (n,) hardly hang together.

    Eight times the memory (first fall of the autocorrelation below 1/e), within ``least`` and ``most``.
    """
    centred = residual - residual.mean()
    reach = min(most, residual.size - 1)
    power = float(centred @ centred)
    memory = reach
    for lag in range(1, reach):
        if float(centred[lag:] @ centred[:-lag]) < power / np.e:
            memory = lag
            break
    return int(np.clip(8 * memory, least, most))
