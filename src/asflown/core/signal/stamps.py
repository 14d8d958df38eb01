"""What the time stamps of a log are worth: rate, jitter, what is repeated, backward, missing, or two flights.

Nothing is repaired here; :mod:`asflown.core.signal.mend` does that. All work is on whole arrays; the costly
statistics are taken from blocks spread over the log.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import Span, TimeFault
from asflown.core.signal.statements import statements_of

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray

    BoolArray = npt.NDArray[np.bool_]
    IntArray = npt.NDArray[np.int64]

#: A step of this many usual steps or more means that rows are missing.
MISSING_FROM = 1.5
#: A backward step of this length, or a forward one of the second, begins another session; s.
RESTART_BACK, RESTART_AHEAD = 1.0, 30.0
#: Up to this many rows between a jump ahead and the jump back are taken as stray stamps.
STRAY_ROWS = 100
#: Stamps are called rounded where they lie on a grid coarser than this share of a step.
ROUNDED_FROM = 0.02

#: Steps shorter than this, s, or longer than its inverse are no time of a log.
SHORTEST_STEP = 1e-6

_BLOCK, _BLOCKS = 2048, 24


@dataclass(frozen=True, eq=False)
class TimeBase:
    """The time stamps of one table of signals.

    Attributes
    ----------
    rate
        Rows a second between the faults; 0.0 where it cannot be told.
    jitter
        s, robust standard deviation of a stamp about an even clock. Rounding of the stamps is not counted.
    rounded_to
        s, the grid the stamps were rounded to while the rows come evenly; 0.0 for none that matters.
    rows, repeated, backward, stray, not_finite
        Counts of rows; ``stray`` stamps jump ahead and back again.
    dropped
        Rows missing, singly and in gaps, from steps of two, three, … usual steps.
    gaps
        Stretches where rows are missing, from the last stamp before to the first after; where there are very
        many the first of them. ``gap_count`` is their true number.
    sessions
        Row numbers from, to (excluded) of stretches that belong together: a restart begins another.
    bad
        (rows,) true for a row whose stamp cannot be used (repeated, backward, stray, not finite); ``None``:
        there is none.
    clock
        A suspicion about the clock from the rate alone, ``None`` for none. See
        :mod:`asflown.core.signal.clock`.
    """

    rate: float
    jitter: float
    rows: int
    start: float = 0.0
    end: float = 0.0
    rounded_to: float = 0.0
    repeated: int = 0
    backward: int = 0
    stray: int = 0
    not_finite: int = 0
    dropped: int = 0
    gaps: tuple[Span, ...] = ()
    gap_count: int = 0
    sessions: tuple[tuple[int, int], ...] = ()
    bad: BoolArray | None = None
    clock: str | None = None
    statements: tuple[TimeFault, ...] = ()

    @property
    def step(self) -> float:
        """Seconds between rows; infinite where the rate cannot be told."""
        return 1.0 / self.rate if self.rate > 0 else float("inf")

    @property
    def is_even(self) -> bool:
        """No row is missing or bad, and jitter is under 2 % of a step."""
        return (
            self.rate > 0
            and self.bad is None
            and len(self.sessions) == 1
            and self.dropped == 0
            and self.gap_count == 0
            and self.jitter <= ROUNDED_FROM * self.step
        )

    @property
    def restarts(self) -> int:
        """How many times the time began anew."""
        return max(0, len(self.sessions) - 1)

    @property
    def dropped_share(self) -> float:
        """Missing rows over those that should be there."""
        return self.dropped / max(1, self.rows + self.dropped)


@dataclass(frozen=True, slots=True)
class _Usual:
    """The usual step and how far steps stray from it, from blocks of the log."""

    step: float
    scatter: float  # robust standard deviation of a step, s
    rounded_to: float


def examine(time: FloatArray, *, gaps_listed: int = 200) -> TimeBase:
    """Look at time stamps.

    Parameters
    ----------
    time
        (n,) s, as logged: they may repeat, go back or be not a number.
    gaps_listed
        How many gaps are given as spans at most; all are counted.

    Examples
    --------
    >>> import numpy as np
    >>> base = examine(np.arange(1000) / 500.0)
    >>> round(base.rate, 6), base.is_even, base.statements
    (500.0, True, ())
    """
    stamps = np.asarray(time, dtype=np.float64)
    bad: BoolArray | None = None
    not_finite = 0
    if stamps.size and not np.isfinite(stamps.sum()):
        bad = ~np.isfinite(stamps)
        not_finite = int(np.count_nonzero(bad))
    rows = np.flatnonzero(~bad) if bad is not None and not_finite else None
    good = stamps if rows is None else stamps[rows]
    usual = _usual(good)
    if usual is None:
        return _unknown(stamps, good, not_finite)
    found = _walk(good, usual, gaps_listed)
    return _told(stamps, good, rows, usual, found, not_finite)


def _unknown(stamps: FloatArray, good: FloatArray, not_finite: int) -> TimeBase:
    start, end = (float(good.min()), float(good.max())) if good.size else (0.0, 0.0)
    what = "the time never goes on in usable steps" if good.size > 2 else f"{good.size} usable time stamps"
    fault = TimeFault(
        "no rate", int(stamps.size), start, f"{what}: no rate can be told; a log needs a time for every row"
    )
    return TimeBase(
        0.0,
        0.0,
        int(stamps.size),
        start,
        end,
        not_finite=not_finite,
        sessions=((0, int(stamps.size)),) if stamps.size else (),
        statements=(fault,),
    )


def _blocks(size: int) -> list[slice]:
    """Blocks spread over an array; all of it where it is short."""
    if size <= _BLOCK * _BLOCKS:
        return [slice(0, size)]
    starts = np.linspace(0, size - _BLOCK, _BLOCKS).astype(int)
    return [slice(int(start), int(start) + _BLOCK) for start in starts]


def _usual(time: FloatArray) -> _Usual | None:
    if time.size < 3:
        return None
    blocks = [time[block] for block in _blocks(time.size)]
    steps = np.concatenate([np.diff(block) for block in blocks])
    ahead = steps[steps > 0]
    if ahead.size == 0:
        return None
    middle = float(np.median(ahead))
    if not SHORTEST_STEP < middle < 1.0 / SHORTEST_STEP:
        return None
    grid = _grid(ahead, middle)
    if grid > ROUNDED_FROM * middle:
        step = _even_under_rounding(blocks, grid)
        if step is not None:
            return _Usual(step, 0.0, grid)
    scatter = 1.4826 * float(np.median(np.abs(steps - middle)))
    near = steps[np.abs(steps - middle) < 0.5 * middle]
    if near.size == 0:
        return _Usual(middle, scatter, 0.0)
    step = float(near.mean())
    # The median distance is blind where most steps are equal: the mean distance of the near ones is not.
    scatter = max(scatter, 1.2533 * float(np.abs(near - step).mean()))
    if scatter > 0.05 * step:
        for reach, within in ((8, 0.03), (64, 0.004), (512, 0.0005)):
            step = _in_step(blocks, reach, step, within)
    return _Usual(step, scatter, 0.0)


def _in_step(blocks: list[FloatArray], reach: int, step: float, within: float) -> float:
    """The step whose whole multiples the times over ``reach`` rows agree with best.

    Symmetric jitter and missing rows do not move it, where a mean of single steps would be pulled up.
    """
    longer = [block[reach:] - block[:-reach] for block in blocks if block.size > 2 * reach]
    if not longer:
        return step
    times = np.concatenate(longer)
    times = times[:: max(1, times.size // 6000)]
    times = times[np.abs(times) < 2.0 * reach * step]
    tried = step * (1.0 + within * np.linspace(-1.0, 1.0, 41))
    agree = np.cos(2.0 * np.pi * times[:, None] / tried[None, :]).mean(axis=0) if times.size else tried * 0
    best = int(np.argmax(agree))
    if not 0 < best < 40:
        return float(tried[best])
    left, middle, right = (float(v) for v in agree[best - 1 : best + 2])
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return float(tried[best] + shift * (tried[1] - tried[0]))


def _grid(ahead: FloatArray, middle: float) -> float:
    """The coarsest grid that all steps are whole multiples of, 0.0 where it is finer than matters."""
    short = ahead[ahead < 20 * middle]
    levels = np.unique(np.rint(short / (1e-4 * middle)))
    if levels.size > 400:
        return 0.0
    apart = np.diff(np.concatenate(([0.0], levels)))
    grid = float(apart[apart > 1.5].min()) * 1e-4 * middle if np.any(apart > 1.5) else 0.0
    if grid <= ROUNDED_FROM * middle:
        return 0.0
    exact = short[np.abs(short - grid) < 0.02 * grid]
    grid = float(exact.mean()) if exact.size else grid
    off = np.abs(short / grid - np.rint(short / grid))
    return grid if float(np.max(off)) < 0.05 else 0.0


def _even_under_rounding(blocks: list[FloatArray], grid: float) -> float | None:
    """The true step where rows come evenly and only their stamps are rounded, else ``None``."""
    steps: list[float] = []
    fits = 0
    pieces = [block[i : i + 256] for block in blocks for i in range(0, block.size - 63, 256)][:400]
    for piece in pieces:
        number = np.arange(piece.size) - (piece.size - 1) / 2
        slope = float(number @ piece / (number @ number))
        off = piece - piece.mean() - slope * number
        if slope > 0 and float(np.ptp(off)) <= 1.3 * grid:
            fits += 1
            steps.append(slope)
    if not pieces or fits < 0.5 * len(pieces):
        return None
    step = float(np.median(steps))
    # Rows that come evenly and stamps that lie on them need no rebuilding.
    return step if abs(step / grid - round(step / grid)) > 1e-3 or step < 0.75 * grid else None


@dataclass(frozen=True, slots=True)
class _Found:
    """What one walk over the steps found; row numbers count the rows with a finite stamp."""

    bad: IntArray
    repeated: int
    backward: int
    stray: int
    first: dict[str, float]
    dropped: int
    gaps: tuple[Span, ...]
    gap_count: int
    sessions: tuple[tuple[int, int], ...]


def _walk(time: FloatArray, usual: _Usual, gaps_listed: int) -> _Found:
    steps = np.diff(time)
    limit = missing_from(usual.step, usual.scatter, usual.rounded_to)
    odd = np.flatnonzero((steps <= 0) | (steps > limit))
    if odd.size == 0:
        none = np.zeros(0, dtype=np.int64)
        return _Found(none, 0, 0, 0, {}, 0, (), 0, ((0, time.size),))
    stray = _stray_rows(time, odd, steps[odd], usual.step)
    kept = np.setdiff1d(np.arange(time.size), stray, assume_unique=True) if stray.size else None
    clean = time if kept is None else time[kept]
    return _Walk(clean, kept).found(usual, limit, stray, gaps_listed, time)


@dataclass(frozen=True, eq=False)
class _Walk:
    """The stamps without the stray ones, and which rows they are (``None``: all)."""

    clean: FloatArray
    kept: IntArray | None

    def found(
        self, usual: _Usual, limit: float, stray: IntArray, gaps_listed: int, time: FloatArray
    ) -> _Found:
        """Sessions, rows that cannot be used, and gaps."""
        steps = np.diff(self.clean)
        starts = np.flatnonzero((steps <= -RESTART_BACK) | (steps >= RESTART_AHEAD)) + 1
        edges = np.concatenate(([0], starts, [self.clean.size]))
        below, same = self._not_ahead(edges, bool(usual.rounded_to))
        first = {
            kind: float(self.clean[where[0]])
            for kind, where in (("backward", below), ("repeated", same))
            if where.size
        }
        if stray.size:
            first["stray"] = float(time[stray[0]])
        bad = np.concatenate((below, same))
        good = np.ones(self.clean.size, dtype=bool)
        good[bad] = False
        dropped, spans, count = self._gaps(good, edges, usual, limit, gaps_listed)
        rows = bad if self.kept is None else self.kept[bad]
        sessions = edges if self.kept is None else np.append(self.kept[edges[:-1]], time.size)
        return _Found(
            np.union1d(rows, stray).astype(np.int64),
            repeated=int(same.size),
            backward=int(below.size),
            stray=int(stray.size),
            first=first,
            dropped=dropped,
            gaps=spans,
            gap_count=count,
            sessions=tuple((int(a), int(b)) for a, b in pairwise(sessions)),
        )

    def _not_ahead(self, edges: IntArray, is_rounded: bool) -> tuple[IntArray, IntArray]:
        """Rows whose stamp lies behind the latest of their session, and rows that repeat it."""
        below: list[IntArray] = []
        same: list[IntArray] = []
        for a, b in pairwise(edges):
            part = self.clean[a:b]
            if np.all(np.diff(part) > 0):
                continue
            top = np.maximum.accumulate(part)
            below.append(np.flatnonzero(part[1:] < top[:-1]) + 1 + a)
            if not is_rounded:
                same.append(np.flatnonzero(part[1:] == top[:-1]) + 1 + a)
        none = np.zeros(0, dtype=np.int64)
        return np.concatenate([none, *below]), np.concatenate([none, *same])

    def _gaps(
        self, good: BoolArray, edges: IntArray, usual: _Usual, limit: float, listed: int
    ) -> tuple[int, tuple[Span, ...], int]:
        index = np.flatnonzero(good)
        steps = np.diff(self.clean[index])
        session = np.searchsorted(edges, index, side="right")
        wide = np.flatnonzero((steps > limit) & (np.diff(session) == 0))
        missing = np.maximum(1, np.rint(steps[wide] / usual.step) - 1)
        spans = tuple(
            Span(float(self.clean[index[i]]), float(self.clean[index[i + 1]])) for i in wide[:listed]
        )
        return int(missing.sum()), spans, int(wide.size)


def missing_from(step: float, scatter: float, rounded_to: float) -> float:
    """The step, s, from which rows are taken as missing, given how steps scatter and are rounded."""
    return max(MISSING_FROM * step, step + 5.0 * scatter, step + 1.05 * rounded_to if rounded_to else 0.0)


def _stray_rows(time: FloatArray, odd: IntArray, steps: FloatArray, usual: float) -> IntArray:
    """Rows between a jump ahead and a jump back to where the time should be."""
    rows: list[IntArray] = []
    jumps = odd[np.abs(steps) >= RESTART_BACK]
    for before, after in pairwise(jumps):
        count = int(after - before)
        through = float(time[after + 1] - time[before])
        if count <= STRAY_ROWS and 0 < through <= (count + 2) * 2 * usual:
            rows.append(np.arange(before + 1, after + 1))
    return np.concatenate(rows) if rows else np.zeros(0, dtype=np.int64)


def _told(
    stamps: FloatArray,
    good: FloatArray,
    rows: IntArray | None,
    usual: _Usual,
    found: _Found,
    not_finite: int,
) -> TimeBase:
    bad: BoolArray | None = None
    if found.bad.size or not_finite:
        bad = np.zeros(stamps.size, dtype=bool)
        bad[found.bad if rows is None else rows[found.bad]] = True
        if rows is not None:
            bad |= ~np.isfinite(stamps)
    sessions = found.sessions
    if rows is not None:
        sessions = tuple((int(rows[a]), int(rows[b - 1]) + 1) for a, b in sessions)
    base = TimeBase(
        rate=float(f"{1.0 / usual.step:.10g}"),
        jitter=usual.scatter / np.sqrt(2.0).item(),
        rows=int(stamps.size),
        start=float(good[0]),
        end=float(good[-1]),
        rounded_to=usual.rounded_to,
        repeated=found.repeated,
        backward=found.backward,
        stray=found.stray,
        not_finite=not_finite,
        dropped=found.dropped,
        gaps=found.gaps,
        gap_count=found.gap_count,
        sessions=sessions,
        bad=bad,
    )
    return statements_of(base, found.first)
