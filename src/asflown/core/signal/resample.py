"""Values between samples: local cubics on real time stamps, band-limited interpolation of even signals."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray, Numbers

#: Samples on either side that band-limited interpolation uses.
REACH = 12
#: Of the signal's Nyquist frequency: up to here band-limited interpolation errs by less than 0.2 %.
FLAT_UP_TO = 0.8

_FINER = 8  # a band-limited signal is made this much finer before the cubic


@dataclass(frozen=True, eq=False)
class Cubic:
    """Four-point Lagrange interpolation at given times, ready for several columns.

    Attributes
    ----------
    first
        (k,) the first of the four samples each result is made of.
    weights
        (4, k) what they count.
    """

    first: npt.NDArray[np.int64]
    weights: FloatArray

    def __call__(self, values: Numbers) -> FloatArray:
        """(k,) values at the times this was made for."""
        result = self.weights[0] * values[self.first]
        for i in range(1, 4):
            result += self.weights[i] * values[self.first + i]
        return np.asarray(result, dtype=np.float64)


def cubic_at(time: FloatArray, at: FloatArray) -> Cubic:
    """Make ready a cubic through the two samples before and the two after each moment.

    Parameters
    ----------
    time
        (n,) s, strictly increasing, n of at least 4; need not be even.
    at
        (k,) s, increasing. Outside ``time`` the outermost cubic goes on: keep ``at`` inside.

    Source
    ------
    Lagrange's formula, any textbook of numerical analysis.
    """
    if time.size < 4:
        raise ValueError(f"a cubic needs 4 samples, got {time.size}")
    first = np.clip(np.searchsorted(time, at, side="right") - 2, 0, time.size - 4)
    apart = [at - time[first + i] for i in range(4)]
    knots = [time[first + i] for i in range(4)]
    weights = np.empty((4, at.size))
    for i in range(4):
        others = [j for j in range(4) if j != i]
        top = apart[others[0]] * apart[others[1]] * apart[others[2]]
        below = (knots[i] - knots[others[0]]) * (knots[i] - knots[others[1]]) * (knots[i] - knots[others[2]])
        weights[i] = top / below
    return Cubic(first, weights)


def cubic_even(start: float, rate: float, size: int, at: FloatArray) -> Cubic:
    """:func:`cubic_at` for an even signal of ``size`` samples from ``start``, without a search."""
    place = (at - start) * rate
    first = np.clip(np.floor(place).astype(np.int64) - 1, 0, size - 4)
    u = place - first - 1.0
    weights = np.empty((4, at.size))
    weights[0] = -u * (u - 1) * (u - 2) / 6
    weights[1] = (u + 1) * (u - 1) * (u - 2) / 2
    weights[2] = -(u + 1) * u * (u - 2) / 2
    weights[3] = (u + 1) * u * (u - 1) / 6
    return Cubic(first, weights)


@lru_cache(maxsize=1)
def _finer_taps() -> FloatArray:
    """(2 * REACH, _FINER) for each finer moment the taps on the samples around it, summing to 1."""
    shift = np.arange(_FINER) / _FINER
    place = np.arange(-REACH + 1, REACH + 1)[:, None] - shift[None, :]
    window = np.i0(8.0 * np.sqrt(np.clip(1 - (place / REACH) ** 2, 0, None))) / np.i0(8.0)
    taps = np.sinc(place) * window
    return np.asarray(taps / taps.sum(axis=0))


def band_limited(values: Numbers, start: float, rate: float, at: FloatArray) -> FloatArray:
    """Values of an even signal at other moments, as the signal that has nothing above its Nyquist frequency.

    Parameters
    ----------
    values
        (n,) at ``start + i / rate``; all finite.
    at
        (k,) s, from ``start`` to the last sample. Within ``REACH`` samples of an end the signal is mirrored
        about its end value.

    Returns
    -------
    (k,) float64. Windowed sinc (24 taps) at an eight times finer step, then a cubic.
    """
    signal = np.asarray(values, dtype=np.float64)
    if signal.size < 4:
        return np.interp(at, start + np.arange(signal.size) / rate, signal)
    reach = min(REACH, signal.size - 1)
    padded = np.concatenate(
        (
            np.full(REACH - reach, 2 * signal[0] - signal[reach]),
            2 * signal[0] - signal[reach:0:-1],
            signal,
            2 * signal[-1] - signal[-2 : -2 - reach : -1],
            np.full(REACH - reach, 2 * signal[-1] - signal[-1 - reach]),
        )
    )
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * REACH)[1 : signal.size + 1]
    finer = (windows @ _finer_taps()).ravel()
    return cubic_even(start, rate * _FINER, finer.size, at)(finer)
