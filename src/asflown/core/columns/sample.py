"""A few blocks of rows and a thin walk over the whole log: what the data evidence looks at."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray, IntArray
    from asflown.core.log_table import LogTable

BLOCK, BLOCKS, THIN = 4096, 5, 1024
_LARGEST = 1e30


@dataclass(frozen=True, eq=False)
class Sample:
    """Rows looked at.

    Attributes
    ----------
    places
        (c,) which columns of the table are numeric, not empty.
    blocks
        (b, n, c) contiguous rows, gaps filled by the value before.
    thin
        (t, c) single rows spread over the whole log.
    starts
        First row of each block.
    """

    places: IntArray
    blocks: FloatArray
    thin: FloatArray
    starts: IntArray
    thin_rows: IntArray

    def at(self, place: int) -> int | None:
        """Where a column of the table stands here."""
        found = np.flatnonzero(self.places == place)
        return int(found[0]) if found.size else None

    @cached_property
    def flat(self) -> FloatArray:
        """(b * n, c) all rows of the blocks."""
        return self.blocks.reshape(-1, self.blocks.shape[2])

    @cached_property
    def mean(self) -> FloatArray:
        """(c,)."""
        return np.asarray(self.flat.mean(axis=0), dtype=np.float64)

    @cached_property
    def deviation(self) -> FloatArray:
        """(c,) standard deviation."""
        return np.asarray(self.flat.std(axis=0), dtype=np.float64)

    @cached_property
    def low(self) -> FloatArray:
        """(c,) smallest value seen."""
        return np.asarray(np.minimum(self.flat.min(axis=0), self.thin.min(axis=0)), dtype=np.float64)

    @cached_property
    def high(self) -> FloatArray:
        """(c,) largest value seen."""
        return np.asarray(np.maximum(self.flat.max(axis=0), self.thin.max(axis=0)), dtype=np.float64)

    @cached_property
    def large(self) -> FloatArray:
        """(c,) the magnitude that 1 % of the rows exceed."""
        return np.asarray(np.quantile(np.abs(self.flat[::5]), 0.99, axis=0))

    @cached_property
    def roughness(self) -> FloatArray:
        """(c,) rms of the steps over the standard deviation: about 1.4 for noise, near 0 for slow signals."""
        steps = np.diff(self.blocks, axis=1).reshape(-1, self.blocks.shape[2])
        return np.asarray(np.sqrt(np.mean(steps**2, axis=0)) / np.maximum(self.deviation, 1e-300))

    @cached_property
    def levels(self) -> IntArray:
        """(c,) how many different values the thin walk met."""
        return np.array([np.unique(column).size for column in self.thin.T], dtype=np.int64)


def take_sample(table: LogTable) -> Sample | None:
    """Blocks of a table: the most active, the middle and the quietest of 40; ``None`` for an empty one."""
    columns = [(at, c.numbers) for at, c in enumerate(table.columns) if c.numbers is not None]
    if table.rows < 3 or not columns:
        return None
    rows = np.unique(np.linspace(0, table.rows - 1, min(THIN, table.rows)).astype(np.int64))
    thin = np.column_stack([np.asarray(numbers[rows], dtype=np.float64) for _, numbers in columns])
    _tame(thin)
    there = np.flatnonzero(np.isfinite(thin).any(axis=0))
    columns, thin = [columns[at] for at in there], _filled(thin[:, there])
    if not columns:
        return None
    starts = _starts(table.rows, rows, thin)
    length = min(BLOCK, table.rows)
    blocks = np.empty((starts.size, length, len(columns)))
    for at, (_, numbers) in enumerate(columns):
        for block, start in enumerate(starts):
            blocks[block, :, at] = numbers[start : start + length]
    _tame(blocks)
    if not np.isfinite(blocks.sum()):
        for at in range(starts.size):
            blocks[at] = _filled(blocks[at])
    return Sample(np.array([at for at, _ in columns]), blocks, thin, starts, rows)


def _tame(values: FloatArray) -> None:
    """Leave out what no log shows, in place, so that squares neither overflow nor vanish."""
    size = np.abs(values)
    values[size > _LARGEST] = np.nan
    values[size < 1 / _LARGEST] = 0.0


def _starts(rows: int, thin_rows: IntArray, thin: FloatArray) -> IntArray:
    if rows <= BLOCK * BLOCKS:
        count = max(1, min(BLOCKS, rows // BLOCK))
        return np.arange(count) * min(BLOCK, rows)
    pieces = 40
    starts = np.linspace(0, rows - BLOCK, pieces).astype(np.int64)
    scaled = (thin - thin.mean(axis=0)) / np.maximum(thin.std(axis=0), 1e-300)
    steps = np.abs(np.diff(scaled, axis=0)).mean(axis=1)
    edges = np.minimum(np.searchsorted(thin_rows, starts), steps.size - 1)
    active = np.add.reduceat(steps, edges) / np.maximum(1, np.diff(np.append(edges, steps.size)))
    order = np.argsort(-active)
    chosen = [order[0], order[1], order[2], order[pieces // 2], order[-1]]
    return np.sort(starts[np.array(chosen)])


def _filled(values: FloatArray) -> FloatArray:
    """Not-a-numbers replaced by the value before (or the first one there is; zero where there is none)."""
    bad = ~np.isfinite(values)
    if not bad.any():
        return values
    rows = np.where(bad, 0, np.arange(values.shape[0])[:, None])
    made = np.take_along_axis(values, np.maximum.accumulate(rows, axis=0), axis=0)
    first = np.argmax(~bad, axis=0)
    head = ~np.isfinite(made)
    made = np.where(head, np.take_along_axis(values, first[None, :], axis=0), made)
    return np.nan_to_num(made, nan=0.0, posinf=0.0, neginf=0.0)
