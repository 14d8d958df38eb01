"""Allan deviation and its relatives, of rates sampled evenly at rest.

Source: W. J. Riley, *Handbook of Frequency Stability Analysis*, NIST SP 1065, July 2008 (digits held against
its tables and against AllanTools). A "phase" there is the running sum of the rate times the sample time: an
angle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IndexArray = npt.NDArray[np.int64]


class Deviation(StrEnum):
    """Which deviation. Overlapping Allan is the one to use; the plain one has a poor confidence."""

    ALLAN = "allan"
    OVERLAPPING = "overlapping allan"
    MODIFIED = "modified allan"
    TIME = "time"  # of angles: tau / sqrt 3 times the modified
    HADAMARD = "hadamard"
    OVERLAPPING_HADAMARD = "overlapping hadamard"
    TOTAL = "total"


@dataclass(frozen=True, slots=True)
class AllanCurve:
    """A deviation against averaging time.

    Attributes
    ----------
    taus
        ``(k,)`` averaging times, s.
    deviation
        ``(k,)`` in the unit of the values (``time``: times s).
    counts
        ``(k,)`` number of differences averaged.
    factors
        ``(k,)`` averaging times in samples.
    samples
        Number of values.
    """

    taus: FloatArray
    deviation: FloatArray
    counts: IndexArray
    factors: IndexArray
    samples: int


def octave_factors(samples: int, per_decade: int = 8, least_blocks: int = 4) -> IndexArray:
    """Averaging times in samples, evenly spaced in their logarithm, up to ``samples / least_blocks``."""
    most = max(1, samples // least_blocks)
    count = int(per_decade * np.log10(most)) + 2
    return np.unique(np.rint(np.geomspace(1, most, count)).astype(np.int64))


def allan_deviation(
    values: npt.ArrayLike,
    rate_hz: float,
    kind: Deviation | str = Deviation.OVERLAPPING,
    factors: npt.ArrayLike | None = None,
    thin: bool = False,
) -> AllanCurve:
    """Deviation of rates against averaging time.

    Parameters
    ----------
    values
        ``(n,)`` rates in any unit, evenly sampled, without a gap; eight or more.
    rate_hz
        Samples a second.
    kind
        Which deviation.
    factors
        ``(k,)`` averaging times in samples; ``None``: :func:`octave_factors`. Those too long for one
        difference are left out.
    thin
        Whether overlapping differences are taken every ``m / 16`` samples only, with m the averaging time: a
        tenth of the time on a long log, and a scatter within a few per cent of that of all.

    Returns
    -------
    AllanCurve

    Raises
    ------
    ValueError
        With less than eight values, or one that is not finite.
    """
    y = np.asarray(values, dtype=np.float64)
    if y.ndim != 1 or y.size < 8 or not np.all(np.isfinite(y)):
        raise ValueError(f"eight finite values or more in one row, got shape {y.shape}")
    # a constant rate has no part in any of them, and without it the running sum keeps its digits
    angle = np.concatenate([[0.0], np.cumsum(y - y.mean())]) / rate_hz
    wanted = octave_factors(y.size) if factors is None else np.asarray(factors, dtype=np.int64)
    rule = _RULES[Deviation(kind)]
    taus, deviations, counts, used = [], [], [], []
    for m in wanted.tolist():
        stride = max(1, m // 16) if thin else 1
        tau = m / rate_hz
        variance, count = rule(angle, m, tau, stride)
        if count >= 1:
            taus.append(tau)
            deviations.append(np.sqrt(variance))
            counts.append(count)
            used.append(m)
    return AllanCurve(
        np.array(taus), np.array(deviations), np.array(counts, dtype=np.int64), np.array(used), y.size
    )


def _mean_square(differences: FloatArray) -> tuple[float, int]:
    count = differences.size
    return (float(differences @ differences) / count if count else np.nan), count


def _allan_at(angle: FloatArray, m: int, tau: float, stride: int) -> tuple[float, int]:
    n = angle.size - 2 * m
    if n < 1:
        return np.nan, 0
    second = angle[2 * m :: stride] - angle[m : m + n : stride]
    second -= angle[m : m + n : stride]
    second += angle[:n:stride]
    square, count = _mean_square(second)
    return square / (2.0 * tau * tau), count


def _hadamard_at(angle: FloatArray, m: int, tau: float, stride: int) -> tuple[float, int]:
    n = angle.size - 3 * m
    if n < 1:
        return np.nan, 0
    middle = angle[2 * m : 2 * m + n : stride] - angle[m : m + n : stride]
    third = angle[3 * m :: stride] - 3.0 * middle - angle[:n:stride]
    square, count = _mean_square(third)
    return square / (6.0 * tau * tau), count


def _modified_at(angle: FloatArray, m: int, tau: float, stride: int) -> tuple[float, int]:
    n = angle.size - 3 * m + 1
    if n < 1:
        return np.nan, 0
    total = np.concatenate([[0.0], np.cumsum(angle)])
    sums = total[m:] - total[:-m]  # of m angles from each place
    second = sums[2 * m :: stride] - 2.0 * sums[m : m + n : stride] + sums[:n:stride]
    square, count = _mean_square(second / m)
    return square / (2.0 * tau * tau), count


def _time_at(angle: FloatArray, m: int, tau: float, stride: int) -> tuple[float, int]:
    variance, count = _modified_at(angle, m, tau, stride)
    return variance * tau * tau / 3.0, count


def _total_at(angle: FloatArray, m: int, tau: float, stride: int) -> tuple[float, int]:
    """SP 1065: the angle is carried on beyond both ends by reflection."""
    if m > angle.size - 2:
        return np.nan, 0
    before = 2.0 * angle[0] - angle[m:0:-1]
    after = 2.0 * angle[-1] - angle[-2 : -m - 2 : -1]
    long = np.concatenate([before, angle, after])
    n = angle.size - 2
    first = slice(1, 1 + n, stride)
    middle = slice(1 + m, 1 + m + n, stride)
    last = slice(1 + 2 * m, 1 + 2 * m + n, stride)
    square, count = _mean_square(long[first] - 2.0 * long[middle] + long[last])
    return square / (2.0 * tau * tau), count


_Rule = Callable[[FloatArray, int, float, int], tuple[float, int]]
_RULES: dict[Deviation, _Rule] = {
    Deviation.ALLAN: lambda angle, m, tau, stride: _allan_at(angle, m, tau, m),
    Deviation.OVERLAPPING: _allan_at,
    Deviation.MODIFIED: _modified_at,
    Deviation.TIME: _time_at,
    Deviation.HADAMARD: lambda angle, m, tau, stride: _hadamard_at(angle, m, tau, m),
    Deviation.OVERLAPPING_HADAMARD: _hadamard_at,
    Deviation.TOTAL: _total_at,
}


class Noise(StrEnum):
    """Kinds of noise in a rate, by the slope of its deviation against averaging time."""

    WHITE_ANGLE = "white angle"  # -1 (with quantisation)
    WHITE = "white rate"  # -1/2: angle random walk
    FLICKER = "flicker rate"  # 0: bias instability
    WALK = "random walk of rate"  # +1/2


def degrees_of_freedom(samples: int, factors: npt.ArrayLike, noise: Noise | str) -> FloatArray:
    """Equivalent degrees of freedom of the overlapping Allan variance.

    Parameters
    ----------
    samples
        Number of rates.
    factors
        ``(k,)`` averaging times in samples.
    noise
        What noise rules there.

    Returns
    -------
    ndarray
        ``(k,)``, one or more: the chi-square of the variance. Formulas of SP 1065, table 5 (from memory;
        digits held against AllanTools).
    """
    n = float(samples + 1)  # angles
    m = np.asarray(factors, dtype=np.float64)
    kind = Noise(noise)
    if kind is Noise.WHITE_ANGLE:
        freedom = (n + 1.0) * (n - 2.0 * m) / (2.0 * (n - m))
    elif kind is Noise.WHITE:
        freedom = (3.0 * (n - 1.0) / (2.0 * m) - 2.0 * (n - 2.0) / n) * 4.0 * m * m / (4.0 * m * m + 5.0)
    elif kind is Noise.FLICKER:
        single = 2.0 * (n - 2.0) ** 2 / (2.3 * n - 4.9)
        freedom = np.where(m < 2.0, single, 5.0 * n * n / (4.0 * m * (n + 3.0 * m)))
    else:
        freedom = (n - 2.0) / m * ((n - 1.0) ** 2 - 3.0 * m * (n - 1.0) + 4.0 * m * m) / (n - 3.0) ** 2
    return np.asarray(np.maximum(freedom, 1.0))


def deviation_interval(
    deviation: npt.ArrayLike, freedom: npt.ArrayLike, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Interval of a deviation whose variance has so many degrees of freedom (chi-square), low and high."""
    from scipy.special import chdtri

    sigma, freedoms = np.asarray(deviation, dtype=np.float64), np.asarray(freedom, dtype=np.float64)
    tail = 0.5 * (1.0 - level)
    low = sigma * np.sqrt(freedoms / chdtri(freedoms, tail))
    high = sigma * np.sqrt(freedoms / chdtri(freedoms, 1.0 - tail))
    return np.asarray(low), np.asarray(high)
