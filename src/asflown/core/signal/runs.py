"""Runs of rows without a gap, laid on an even grid, with single missing rows filled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.signal.mend import unrounded
from asflown.core.signal.resample import cubic_at
from asflown.core.signal.stamps import ROUNDED_FROM, TimeBase, missing_from

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray, Numbers, Span

    IntArray = npt.NDArray[np.int64]

#: A wide step that is no whole number of usual steps within this share of one breaks a run.
OFF_GRID = 0.25


@dataclass(frozen=True, eq=False)
class Run:
    """One stretch.

    Attributes
    ----------
    start
        s, of its first sample.
    samples
        On the even grid.
    filled
        Missing rows filled inside.
    lay
        Gives the samples of one column on the even grid.
    is_resampled
        Stamps strayed by more than matters: every sample is interpolated at its place on the grid.
    """

    start: float
    samples: int
    filled: int
    lay: Callable[[Numbers], Numbers]
    is_resampled: bool = False


def runs_of(
    time: FloatArray,
    base: TimeBase,
    *,
    holes: npt.NDArray[np.bool_] | None,
    spans: Sequence[Span] | None,
    fill_up_to: float,
    least: float,
) -> tuple[Run, ...]:
    """Runs of at least ``least`` s on the grid of ``base.rate``.

    Parameters
    ----------
    time
        (n,) s, the stamps ``base`` was made from.
    holes
        (n,) true where a column has no value; such rows count as missing.
    spans
        Only inside these; ``None``: everywhere.
    fill_up_to
        s; missing rows that cover more break a run. A single missing row is always filled.
    """
    if base.rate <= 0:
        return ()
    unusable = _either(base.bad, holes)
    if unusable is None and base.is_even:
        return tuple(_even_runs(time, base, spans, least))
    rows = np.arange(time.size) if unusable is None else np.flatnonzero(~unusable)
    if rows.size < 4:
        return ()
    stamps = time[rows]
    session = np.searchsorted([a for a, _ in base.sessions], rows, side="right")
    if base.rounded_to:
        stamps = _spread(stamps, session, base)
    found: list[Run] = []
    for a, b in _pieces(stamps, session, base, fill_up_to):
        for c, d in _within(stamps, a, b, spans):
            if d - c >= 4 and stamps[d - 1] - stamps[c] + base.step >= least:
                found.append(_run(stamps[c:d], rows[c:d], base))
    return tuple(found)


def _either(a: npt.NDArray[np.bool_] | None, b: npt.NDArray[np.bool_] | None) -> npt.NDArray[np.bool_] | None:
    if a is None or b is None:
        return b if a is None else a
    return a | b


def _even_runs(time: FloatArray, base: TimeBase, spans: Sequence[Span] | None, least: float) -> list[Run]:
    found = []
    for a, b in _within(time, 0, time.size, spans):
        if b > a and (b - a) * base.step >= least:
            found.append(Run(float(time[a]), b - a, 0, _Slice(a, b)))
    return found


@dataclass(frozen=True, slots=True)
class _Slice:
    start: int
    stop: int

    def __call__(self, values: Numbers) -> Numbers:
        return values[self.start : self.stop]


def _within(time: FloatArray, a: int, b: int, spans: Sequence[Span] | None) -> list[tuple[int, int]]:
    """Row ranges of ``a`` to ``b`` inside the spans."""
    if spans is None:
        return [(a, b)]
    part = time[a:b]
    cut = []
    for span in spans:
        c, d = np.searchsorted(part, (span.start, span.end))
        if d > c:
            cut.append((a + int(c), a + int(d)))
    return cut


def _spread(stamps: FloatArray, session: IntArray, base: TimeBase) -> FloatArray:
    edges = [0, *(np.flatnonzero(np.diff(session)) + 1), stamps.size]
    parts = [unrounded(stamps[a:b], base) for a, b in pairwise(edges)]
    return np.concatenate(parts)


def _pieces(
    stamps: FloatArray, session: IntArray, base: TimeBase, fill_up_to: float
) -> list[tuple[int, int]]:
    """Ranges of usable rows between breaks: a new session, or more missing than may be filled."""
    steps = np.diff(stamps) * base.rate
    wide = steps > missing_from(1.0, base.jitter * base.rate * 2**0.5, 0.0)
    missing = np.rint(steps) - 1
    broken = wide & (missing > 1) & (missing * base.step > fill_up_to)
    if not base.jitter > ROUNDED_FROM * base.step:
        broken |= wide & (np.abs(steps - np.rint(steps)) > OFF_GRID)
    broken |= np.diff(session) != 0
    edges = np.concatenate(([0], np.flatnonzero(broken) + 1, [stamps.size]))
    return [(int(a), int(b)) for a, b in pairwise(edges)]


def _run(stamps: FloatArray, rows: IntArray, base: TimeBase) -> Run:
    """Lay one piece on the grid: by counting rows where the clock is even, else by its stamps."""
    ahead = np.maximum(np.rint(np.diff(stamps) * base.rate), 1.0)
    place = np.concatenate(([0.0], np.cumsum(ahead)))
    line = stamps[0] + (stamps[-1] - stamps[0]) * place / place[-1]
    off = stamps - line
    # Strays of single stamps matter; a clock that wanders slowly does not.
    strays = float(np.sqrt(np.mean(np.diff(off) ** 2) / 2)) * base.rate
    if strays > ROUNDED_FROM and not base.rounded_to:
        return _by_stamps(stamps, rows, base)
    samples = int(place[-1]) + 1
    if samples == stamps.size:
        return Run(float(stamps[0]), samples, 0, _Rows(rows))
    known = place.astype(np.int64)
    gone = np.ones(samples, dtype=bool)
    gone[known] = False
    holes = np.flatnonzero(gone)
    return Run(float(stamps[0]), samples, holes.size, _Filled(rows, known, holes, place, samples))


def _by_stamps(stamps: FloatArray, rows: IntArray, base: TimeBase) -> Run:
    samples = int(np.floor((stamps[-1] - stamps[0]) * base.rate + 1e-6)) + 1
    grid = stamps[0] + np.arange(samples) * base.step
    cubic = cubic_at(stamps, grid)
    steps = np.diff(stamps) * base.rate
    filled = int(np.sum(np.rint(steps[steps > missing_from(1.0, base.jitter * base.rate * 2**0.5, 0.0)]) - 1))

    def lay(values: Numbers) -> Numbers:
        return cubic(_Rows(rows)(values))

    return Run(float(stamps[0]), samples, filled, lay, is_resampled=True)


@dataclass(frozen=True, eq=False, slots=True)
class _Rows:
    rows: IntArray

    def __call__(self, values: Numbers) -> Numbers:
        first, last = int(self.rows[0]), int(self.rows[-1])
        if last - first + 1 == self.rows.size:
            return values[first : last + 1]
        return values[self.rows]


class _Filled:
    """Known samples at their places, and a cubic through their neighbours at the others."""

    def __init__(
        self, rows: IntArray, known: IntArray, holes: IntArray, place: FloatArray, samples: int
    ) -> None:
        self._rows = _Rows(rows)
        self._known, self._holes, self._samples = known, holes, samples
        self._cubic = cubic_at(place, holes.astype(np.float64))

    def __call__(self, values: Numbers) -> Numbers:
        have = self._rows(values)
        result = np.empty(self._samples, dtype=have.dtype)
        result[self._known] = have
        result[self._holes] = self._cubic(have)
        return result
