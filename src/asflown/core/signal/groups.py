"""Signals that share their times: the fastest leads, the others are brought onto its grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import Flight, Trace
from asflown.core.signal.resample import band_limited
from asflown.core.signal.runs import Run, runs_of
from asflown.core.signal.stamps import TimeBase, examine

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray, Numbers

    BoolArray = npt.NDArray[np.bool_]

#: Families that change slowly: straight lines between their samples are near enough.
SLOW = frozenset(
    ("pack_voltage", "pack_current", "altitude", "position", "velocity", "air_temperature", "air_pressure")
)
#: A column with values in fewer than this share of its table's rows was logged more slowly than the table.
SPARSE_BELOW = 0.6


@dataclass(frozen=True, eq=False)
class Group:
    """Signals on the same times.

    Attributes
    ----------
    holes
        (n,) true where one of the signals has no value; ``None``: nowhere.
    """

    traces: tuple[Trace, ...]
    time: FloatArray
    base: TimeBase
    holes: BoolArray | None = None

    @cached_property
    def _runs(self) -> tuple[Run, ...]:
        fill = 2.5 * self.base.step
        return runs_of(self.time, self.base, holes=self.holes, spans=None, fill_up_to=fill, least=0.0)

    def _is_slow(self, trace: Trace) -> bool:
        return trace.name.split(".")[0] in SLOW

    def covers(self, grid: FloatArray) -> BoolArray:
        """(k,) where the group has values: inside its runs; a slow group also in gaps of up to 1 s."""
        result = np.zeros(grid.size, dtype=bool)
        if all(self._is_slow(trace) for trace in self.traces):
            good = self._good()
            time = self.time[good]
            if time.size < 2:
                return result
            at = np.clip(np.searchsorted(time, grid), 1, time.size - 1)
            near = np.minimum(np.abs(grid - time[at - 1]), np.abs(grid - time[at]))
            return np.asarray(near <= max(1.0, 2.0 * self.base.step))
        for run in self._runs:
            a, b = np.searchsorted(grid, (run.start, run.start + (run.samples - 1) * self.base.step))
            result[a:b] = True
        return result

    def _good(self) -> BoolArray:
        good = np.ones(self.time.size, dtype=bool)
        for unusable in (self.base.bad, self.holes):
            if unusable is not None:
                good &= ~unusable
        return good

    def at(self, grid: FloatArray) -> dict[str, FloatArray]:
        """(k,) values of each signal on another grid; meaningless where it does not :meth:`covers`."""
        return {trace.name: self._one(trace, grid) for trace in self.traces}

    def _one(self, trace: Trace, grid: FloatArray) -> FloatArray:
        if self._is_slow(trace):
            good = self._good()
            return np.interp(grid, self.time[good], trace.values[good].astype(np.float64))
        result = np.zeros(grid.size)
        for run in self._runs:
            a, b = np.searchsorted(grid, (run.start, run.start + (run.samples - 1) * self.base.step))
            if b > a:
                result[a:b] = band_limited(run.lay(trace.values), run.start, self.base.rate, grid[a:b])
        return result


def groups_of(flight: Flight, signals: Sequence[str]) -> tuple[list[Group], list[str]]:
    """The groups, fastest first, and what is missing in sentences."""
    faults = [f"{name} was not logged" for name in signals if name not in flight.traces]
    by_time: dict[object, list[Trace]] = {}
    times: dict[object, FloatArray] = {}
    holes: dict[object, BoolArray] = {}
    for name in dict.fromkeys(signals):
        trace = flight.traces.get(name)
        if trace is None:
            continue
        unknown = _unknown(trace.values)
        key: object = id(trace.time)
        time = trace.time
        if unknown is not None:
            have = trace.values.size - int(np.count_nonzero(unknown))
            if have < 4:
                faults.append(f"{name} has {'no values' if not have else f'only {have} values'}")
                continue
            if have < SPARSE_BELOW * trace.values.size and _is_spread(unknown):
                rows = np.flatnonzero(~unknown)
                key, time = name, time[rows]
                trace = Trace(name, time, trace.values[rows], trace.unit, trace.column)
            else:
                holes[key] = unknown | holes[key] if key in holes else unknown
        by_time.setdefault(key, []).append(trace)
        times[key] = time
    groups = [
        Group(tuple(traces), times[key], examine(times[key]), holes.get(key))
        for key, traces in by_time.items()
    ]
    groups.sort(key=lambda group: (-group.base.rate, -len(group.traces)))
    return groups, faults


def _unknown(values: Numbers) -> BoolArray | None:
    """(n,) true where a value is not finite; ``None`` where all are (a sum is the quickest look)."""
    with np.errstate(over="ignore", invalid="ignore"):
        if np.isfinite(values.sum()):
            return None
    unknown = ~np.isfinite(values)
    return unknown if unknown.any() else None


def _is_spread(unknown: BoolArray) -> bool:
    """Whether values come regularly between the holes rather than in one stretch."""
    apart = np.diff(np.flatnonzero(~unknown))
    return bool(np.median(apart) >= 2)
