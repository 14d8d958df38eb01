"""Power in bands of frequency, and how far flights of one aircraft on one path scatter in it.

Between flights the flight is the unit: how far two flights may differ is read from how far the others of
the set differ from each other, never from within one flight.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.allan import deviation_interval
from asflown.core.signal.mean_error import student
from asflown.core.vibration.frames import frames_of, good_length
from asflown.core.vibration.intervals import DB_OF_POWER, ratio
from asflown.errors import InputError

FloatArray = npt.NDArray[np.float64]
Band = tuple[float, float]

#: Hz.
BANDS: tuple[Band, ...] = ((0.3, 1.0), (1.0, 3.0), (3.0, 8.0), (8.0, 20.0), (20.0, 40.0), (40.0, 58.0))
_FRAME = 4.0  # s
_FEWEST = 4  # flights
_DRAWS = 100_000


@dataclass(frozen=True, slots=True)
class BandPower:
    """Mean square of a signal in a band, unit², with the interval of its mean over that one flight."""

    band: Band
    power: Measured

    @property
    def decibels(self) -> float:
        """10 log10 of the power, minus infinity where there is none."""
        return -math.inf if not self.power.value else 10.0 * math.log10(self.power.value)


@dataclass(frozen=True, slots=True)
class PairDifference:
    """Two flights in one band.

    Attributes
    ----------
    change
        Second over first, dB; the 95 % interval is that of a pair picked beforehand, from the scatter of
        the set.
    is_different
        Further apart than the range of so many flights that only scatter is, over their standard deviation,
        in 19 sets of 20 (all pairs and bands looked at).
    """

    first: str
    second: str
    change: Measured
    is_different: bool


@dataclass(frozen=True, slots=True)
class BandScatter:
    """One band over a set of flights.

    Attributes
    ----------
    scatter
        Standard deviation between flights, dB, with its 95 % (chi-squared) interval.
    within
        What the intervals within the flights would lead one to expect, dB: mostly far too small.
    """

    band: Band
    scatter: Measured
    within: float
    pairs: tuple[PairDifference, ...]


def band_power(
    values: npt.NDArray[np.floating], rate_hz: float, bands: Sequence[Band] = BANDS, unit: str = "(rad/s)2"
) -> tuple[BandPower, ...]:
    """Power of a signal in bands.

    Parameters
    ----------
    values
        (n,) even samples, 16 s or more.
    bands
        Hz, from and to.

    Raises
    ------
    InputError
        For less than 16 s.
    """
    if values.size < 4.0 * _FRAME * rate_hz:
        raise InputError(
            f"{values.size / rate_hz:.1f} s of even log, {4.0 * _FRAME:g} s are needed for band power",
            next_step="fly and log for longer",
        )
    length = good_length(_FRAME, rate_hz)
    frames = frames_of(values[None, None], rate_hz, length, length // 2)
    return tuple(_of_band(frames.power[0], frames.frequency, band, rate_hz, unit) for band in bands)


def _of_band(
    power: npt.NDArray[np.float32], frequency: FloatArray, band: Band, rate_hz: float, unit: str
) -> BandPower:
    if band[1] > 0.5 * rate_hz:
        reason = f"the band reaches above half the log rate ({0.5 * rate_hz:g} Hz); log faster"
        return BandPower(band, unmeasured(reason, unit))
    inside = (frequency >= band[0]) & (frequency < band[1])
    if not inside.any():
        return BandPower(
            band, unmeasured("the band is narrower than the frames resolve; log for longer", unit)
        )
    each = power[:, inside].sum(axis=1, dtype=np.float64) * frequency[1]
    mean, error, degrees = ratio(each, np.ones(each.size))
    if not mean > 0.0:
        return BandPower(band, unmeasured("the signal is constant", unit))
    reach = math.exp(min(student(degrees) * error / mean, 50.0))
    return BandPower(band, Measured(mean, mean / reach, mean * reach, unit, "Hann frames of 4 s"))


def compare_band_power(flights: Mapping[str, Sequence[BandPower]]) -> tuple[BandScatter, ...]:
    """Scatter between flights in each band, and which pairs differ beyond it.

    Parameters
    ----------
    flights
        By name, each with the same bands.

    Raises
    ------
    InputError
        For fewer than four flights: with three, one flight alone would have to tell how far flights scatter.
    """
    if len(flights) < _FEWEST:
        raise InputError(
            f"{len(flights)} flights, scatter between flights takes {_FEWEST} or more of one aircraft "
            f"on one path",
            next_step="fly the same card again",
        )
    columns = list(zip(*flights.values(), strict=True))
    return tuple(_scatter(tuple(flights), column, len(columns)) for column in columns)


def _scatter(names: tuple[str, ...], column: Sequence[BandPower], bands: int) -> BandScatter:
    levels = np.array([one.decibels for one in column])
    if not np.all(np.isfinite(levels)):
        reason = next((one.power.reason for one in column if one.power.reason), "no power")
        return BandScatter(column[0].band, unmeasured(str(reason), "dB"), math.nan, ())
    count = levels.size
    deviation = float(levels.std(ddof=1))
    low, high = deviation_interval(deviation, count - 1)
    errors = [_error(one.power) for one in column]
    furthest = range_limit(count, 0.05 / bands) * deviation
    pairs = tuple(
        _pair((names[i], names[j]), float(levels[j] - levels[i]), deviation, count - 1, furthest)
        for i, j in combinations(range(count), 2)
    )
    scatter = Measured(deviation, float(low), float(high), "dB", "between flights")
    return BandScatter(column[0].band, scatter, math.sqrt(float(np.mean(np.square(errors)))), pairs)


def _pair(
    names: tuple[str, str], change: float, spread: float, degrees: int, furthest: float
) -> PairDifference:
    reach = student(degrees) * math.sqrt(2.0) * spread
    measured = Measured(change, change - reach, change + reach, "dB", "scatter between flights")
    return PairDifference(*names, measured, abs(change) > furthest)


@lru_cache(maxsize=64)
def range_limit(count: int, share: float) -> float:
    """Range over standard deviation that ``share`` of samples of ``count`` normal values exceed.

    David, Hartley and Pearson, Biometrika 41 (1954) give 3.40 for eight values and 5 % (from memory); here
    by drawing, always the same draws.
    """
    drawn = np.random.default_rng(8).standard_normal((_DRAWS, count))
    return float(np.quantile(np.ptp(drawn, axis=1) / drawn.std(axis=1, ddof=1), 1.0 - share))


def flight_against(
    flights: Mapping[str, Sequence[BandPower]], flown: Sequence[BandPower]
) -> tuple[Measured, ...]:
    """A further flight over the mean of a set, dB in each band, with the interval one of the set would have.

    The interval is for all bands together (95 % of sets show no band outside): a band whose interval leaves
    out zero differs from the set beyond the scatter between flights. A single odd flight hides inside a set
    it belongs to, by widening the scatter; held against a set it does not belong to it shows.

    Raises
    ------
    InputError
        For fewer than four flights in the set.
    """
    if len(flights) < _FEWEST:
        raise InputError(
            f"{len(flights)} flights, scatter between flights takes {_FEWEST} or more of one aircraft "
            f"on one path",
            next_step="fly the same card again",
        )
    columns = list(zip(*flights.values(), strict=True))
    out = []
    for column, one in zip(columns, flown, strict=True):
        levels = np.array([each.decibels for each in column])
        if one.power.value is None or not np.all(np.isfinite(levels)):
            out.append(unmeasured(one.power.reason or "a flight of the set has no power in this band", "dB"))
            continue
        change = one.decibels - float(levels.mean())
        reach = student(levels.size - 1, 1.0 - 0.05 / len(columns)) * float(levels.std(ddof=1))
        reach *= math.sqrt(1.0 + 1.0 / levels.size)
        out.append(Measured(change, change - reach, change + reach, "dB", "scatter between flights"))
    return tuple(out)


def _error(power: Measured) -> float:
    """Standard error in dB that the interval within a flight stands for."""
    assert power.value is not None
    assert power.high is not None
    return DB_OF_POWER * math.log(power.high / power.value) / 1.96
