"""Where the windows of a log lie, and what a window makes of a signal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: s, lengths of windows that are tried, the longest first, and the least of the time that must fit into them.
LENGTHS = (4.0, 2.0, 1.0)
FITTING = 0.5
#: s, the least time that is used.
LEAST = 6.0
#: Windows at most, evenly picked.
MOST = 160
#: s at both ends of a stretch in which filters settle.
SETTLE = 0.3
#: Bins that a Hann window spreads a constant and a slope over.
LOW_BINS = 3
#: Highest frequency looked at, Hz, and as a share of the rows' rate.
TOP, TOP_SHARE = 250.0, 0.4
#: Bands in an octave.
IN_OCTAVE = 24.0


@dataclass(frozen=True, eq=False)
class Rows:
    """One even stretch of a log.

    Attributes
    ----------
    rate
        Samples a second.
    command
        (n,) rad/s; ``None`` where it was not logged.
    response
        (n,) measured rate, rad/s.
    output
        (n,) the controller's output, 1.
    free
        (n,) whether nothing stood at its end.
    """

    rate: float
    command: Float | None
    response: Float
    output: Float
    free: Bool


@dataclass(frozen=True, eq=False)
class Windows:
    """Windows and bands.

    Attributes
    ----------
    rate, length
        Samples a second, and rows of a window.
    places
        Number of the stretch, and first row in it, of each window.
    first
        Lowest bin that is used.
    starts
        First bin of each band, counted from ``first``.
    bins
        (b,) bins of each band.
    frequencies
        (b,) Hz, centres of the bands.
    """

    rate: float
    length: int
    places: tuple[tuple[int, int], ...]
    first: int
    starts: tuple[int, ...]
    bins: Float
    frequencies: Float

    @property
    def seconds(self) -> float:
        """Of the log that lie in windows."""
        rows = 0
        for (one, start), (other, after) in pairwise((*self.places, (-1, 0))):
            rows += min(self.length, after - start) if one == other else self.length
        return rows / self.rate

    def spectra(self, signals: Sequence[Float], *, slope: bool = False) -> Complex:
        """(w, nf) of a signal given by stretch, (n,) each, its mean and slope taken off in each window.

        Parameters
        ----------
        slope
            With the window's derivative (1/s) in place of the window.
        """
        cut = np.stack([signals[i][start : start + self.length] for i, start in self.places])
        ramp = np.linspace(-1.0, 1.0, self.length)
        cut = cut - cut.mean(axis=1, keepdims=True)
        cut -= (cut @ ramp / (ramp @ ramp))[:, None] * ramp
        turn = 2 * np.pi / self.length
        at = turn * np.arange(self.length)
        taper = 0.5 * turn * self.rate * np.sin(at) if slope else 0.5 - 0.5 * np.cos(at)
        whole = np.fft.rfft(cut * taper, axis=1)
        return np.asarray(whole[:, self.first : self.first + int(self.bins.sum())])

    def summed(self, values: npt.NDArray[np.generic], axis: int) -> npt.NDArray[np.generic]:
        """Sums over the bins of each band."""
        return np.asarray(np.add.reduceat(values, np.asarray(self.starts), axis=axis))


def windows_of(stretches: Sequence[Rows]) -> Windows | None:
    """Windows in which nothing stood at its end; ``None`` where less than `LEAST` s fit into any."""
    if not stretches:
        return None
    rate = stretches[0].rate
    runs = [(i, a, b) for i, one in enumerate(stretches) for a, b in _runs(one)]
    total = sum(b - a for _, a, b in runs)
    length, places = 0, []
    for seconds in LENGTHS:
        length = 2 * round(0.5 * seconds * rate)
        inside = [(i, a, b) for i, a, b in runs if b - a >= length]
        places = [(i, s) for i, a, b in inside for s in range(a, b - length + 1, length // 2)]
        if sum(b - a for _, a, b in inside) > FITTING * total and len(places) >= LEAST / seconds:
            break
    if (len(places) + 1) * 0.5 * length < LEAST * rate:
        return None
    if len(places) > MOST:
        places = [places[k] for k in np.linspace(0, len(places) - 1, MOST).astype(int)]
    count = int(np.searchsorted(np.arange(length // 2 + 1) * rate / length, min(TOP, TOP_SHARE * rate)))
    f = np.asarray(np.arange(LOW_BINS, count) * (rate / length), dtype=np.float64)
    starts = _bands(f)
    bins = np.diff([*starts, f.size]).astype(np.float64)
    centres = np.add.reduceat(f, np.asarray(starts)) / bins
    return Windows(rate, length, tuple(places), LOW_BINS, tuple(starts), bins, centres)


def _runs(one: Rows) -> list[tuple[int, int]]:
    free = one.free.copy()
    settle = round(SETTLE * one.rate)
    free[:settle] = free[max(0, free.size - settle) :] = False
    edge = np.flatnonzero(np.diff(np.concatenate([[False], free, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edge[::2], edge[1::2], strict=True)]


def _bands(frequencies: Float) -> list[int]:
    """First bin of each band: single bins at first, then `IN_OCTAVE` to the octave."""
    number = np.floor(np.log2(frequencies / frequencies[0]) * IN_OCTAVE)
    return [0, *(i + 1 for i, (a, b) in enumerate(pairwise(number)) if b != a)]
