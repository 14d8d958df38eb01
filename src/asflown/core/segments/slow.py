"""A copy of a flight at 50 bins a second, on which segments are judged."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.signal.ranges import true_ranges

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import Flight, FloatArray, Numbers, Trace

    BoolArray = npt.NDArray[np.bool_]

#: Bins a second.
RATE = 50.0
#: A log longer than this is judged on wider bins, so that memory stays bounded; s.
LONGEST = 6 * 3600.0


@dataclass(frozen=True, eq=False)
class Slow:
    """Means in bins.

    Attributes
    ----------
    time
        (n,) s, middle of each bin.
    rate
        Bins a second.
    """

    flight: Flight
    time: FloatArray
    rate: float
    _edges: dict[int, npt.NDArray[np.int64]] = field(default_factory=dict)
    _means: dict[str, FloatArray | None] = field(default_factory=dict)

    @classmethod
    def of(cls, flight: Flight) -> Slow | None:
        """The slow copy, ``None`` where no signal has a stretch of time."""
        ends = [
            (float(np.nanmin(t.time)), float(np.nanmax(t.time)))
            for t in flight.traces.values()
            if t.time.size > 3 and np.isfinite(t.time[0] + t.time[-1])
        ]
        if not ends:
            return None
        start, end = min(a for a, _ in ends), max(b for _, b in ends)
        if not 0.2 < end - start < 1e7:
            return None
        rate = RATE if end - start <= LONGEST else RATE * LONGEST / (end - start)
        count = int((end - start) * rate) + 1
        middle: FloatArray = start + (np.arange(count, dtype=np.float64) + 0.5) / rate
        return cls(flight, middle, rate)

    def mean(self, name: str) -> FloatArray | None:
        """(n,) mean of a signal in each bin, the last known where a bin is empty; ``None``: not logged."""
        if name not in self._means:
            trace = self.flight.traces.get(name)
            self._means[name] = None if trace is None else self._binned(trace, trace.values)
        return self._means[name]

    def share(self, trace: Trace, mask: BoolArray) -> FloatArray:
        """(n,) share of each bin's rows where a mask over the rows holds."""
        binned = self._binned(trace, mask.astype(np.float32))
        return np.zeros(self.time.size) if binned is None else binned

    def _binned(self, trace: Trace, values: Numbers) -> FloatArray | None:
        if trace.time.size < 2:
            return None
        edges = self._edges.get(id(trace.time))
        if edges is None:
            bounds = self.time - 0.5 / self.rate
            stamps = np.maximum.accumulate(np.nan_to_num(trace.time, nan=-np.inf))
            edges = np.searchsorted(stamps, bounds)
            self._edges[id(trace.time)] = edges
        first = np.minimum(edges, values.size - 1)
        with np.errstate(invalid="ignore", over="ignore"):
            total = values.sum()
            if np.isfinite(total):
                sums = np.add.reduceat(values, first).astype(np.float64)
                counts = np.diff(np.append(edges, values.size)).astype(np.float64)
            else:
                known = np.isfinite(values)
                sums = np.add.reduceat(np.where(known, values, 0.0), first).astype(np.float64)
                counts = np.add.reduceat(known.astype(np.float64), first)
                counts[np.diff(np.append(edges, values.size)) == 0] = 0.0
        filled = counts > 0
        if not filled.any():
            return None
        result = np.full(self.time.size, np.nan)
        result[filled] = sums[filled] / counts[filled]
        last = np.maximum.accumulate(np.where(filled, np.arange(filled.size), -1))
        first_known = int(np.argmax(filled))
        return np.asarray(result[np.where(last < 0, first_known, last)])


def smooth(values: FloatArray, bins: int) -> FloatArray:
    """(n,) centred moving mean; at the ends over what there is."""
    bins = max(1, bins | 1)
    if bins == 1 or values.size < 2:
        return values
    sums = np.concatenate(([0.0], np.cumsum(values)))
    index = np.arange(values.size)
    a, b = np.maximum(index - bins // 2, 0), np.minimum(index + bins // 2 + 1, values.size)
    return np.asarray((sums[b] - sums[a]) / (b - a))


def ranges(mask: BoolArray, *, join: int = 0, least: int = 1) -> list[tuple[int, int]]:
    """Stretches where a mask holds, as bins from, to (excluded).

    Parameters
    ----------
    join
        Stretches fewer bins apart than this become one.
    least
        Shorter ones are left out.
    """
    starts, ends = true_ranges(mask)
    joined: list[tuple[int, int]] = []
    for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
        if joined and a - joined[-1][1] < join:
            joined[-1] = (joined[-1][0], b)
        else:
            joined.append((a, b))
    return [(a, b) for a, b in joined if b - a >= least]


def mask_of(stretches: list[tuple[int, int]], size: int) -> BoolArray:
    """(size,) true inside the stretches."""
    result = np.zeros(size, dtype=bool)
    for a, b in stretches:
        result[a:b] = True
    return result
