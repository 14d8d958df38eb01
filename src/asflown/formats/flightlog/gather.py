"""Columns put together from blocks: precision, thinning, words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from asflown.formats.flightlog.precision import is_code_like, needs_double
from asflown.formats.flightlog.thin import Decimator, Picker, filter_taps

if TYPE_CHECKING:
    import numpy.typing as npt
    import polars as pl

    Numbers = npt.NDArray[np.floating]


class NumberColumn:
    """A numeric column that grows.

    Parameters
    ----------
    is_double
        Whether float64 is wanted from the start.
    factor
        Decimation.
    is_picked
        Whether rows are picked instead of filtered when decimated (times).
    capacity
        Rows expected after decimation.
    """

    def __init__(self, *, is_double: bool, factor: int, is_picked: bool, capacity: int) -> None:
        self._values: Numbers = np.empty(capacity, np.float64 if is_double else np.float32)
        self._count = 0
        self._picker = Picker(factor) if factor > 1 else None
        self._filter = None
        self._codes: list[Numbers] | None = None
        if factor > 1 and not is_picked:
            self._filter = Decimator(factor, filter_taps(factor), self._values.dtype)
            self._codes = []

    def add(self, values: Numbers, largest: float) -> None:
        """Take a block; ``largest`` is the largest amount in it."""
        if self._values.dtype == np.float32 and needs_double(largest):
            self._widen()
        if self._picker is None:
            self._append(values)
            return
        kept = values[self._picker.places(len(values))]
        if self._filter is None:
            self._append(kept)
            return
        if self._codes is not None:
            if is_code_like(values):
                self._codes.append(kept.astype(np.float32))
            else:
                self._codes = None
        self._append(self._filter.push(values))

    def _widen(self) -> None:
        self._values = self._values.astype(np.float64)
        if self._filter is not None:
            self._filter.widen()

    def _append(self, values: Numbers) -> None:
        end = self._count + len(values)
        if end > len(self._values):
            larger = np.empty(end + end // 4 + 64, self._values.dtype)
            larger[: self._count] = self._values[: self._count]
            self._values = larger
        self._values[self._count : end] = values
        self._count = end

    @property
    def nbytes(self) -> int:
        """Bytes of the values taken so far."""
        return self._count * self._values.itemsize

    def done(self, rows: int) -> Numbers:
        """All values, read-only."""
        if self._filter is not None:
            self._append(self._filter.finish())
        made = self._values[: self._count]
        if self._codes is not None:
            codes = np.concatenate(self._codes) if self._codes else made[:0]
            made = codes if is_code_like(codes) else made
        made = made[:rows]
        made = made.copy() if made.base is not None and made.base.nbytes > 1.1 * made.nbytes + 4096 else made
        made.flags.writeable = False
        return made


class WordColumn:
    """A column of words that grows; runs of one word are cheap."""

    def __init__(self, factor: int) -> None:
        self._words: list[str] = []
        self._known: dict[str, str] = {}
        self._picker = Picker(factor)

    def add(self, texts: pl.Series) -> None:
        """Take a block of texts; null is an empty word."""
        kept = self._picker.places(len(texts))
        texts = texts.gather_every(kept.step, min(kept.start, len(texts))) if kept.step > 1 else texts
        runs = texts.fill_null("").rle().struct.unnest() if len(texts) else None
        if runs is None:
            return
        lengths, words = runs.get_columns()
        if 4 * len(words) > len(texts):
            self._words += [self._known.setdefault(word, word) for word in texts.fill_null("").to_list()]
            return
        for length, word in zip(lengths.to_list(), words.to_list(), strict=True):
            self._words += [self._known.setdefault(word, word)] * length

    def done(self, rows: int) -> tuple[str, ...]:
        """All words."""
        return tuple(self._words[:rows])


def largest_of(values: Numbers) -> tuple[float, bool]:
    """The largest finite amount, and whether any value is infinite; no copy where nothing is odd."""
    if not len(values):
        return 0.0, False
    low, high = float(np.min(values)), float(np.max(values))
    if np.isfinite(low) and np.isfinite(high):
        return max(abs(low), abs(high)), False
    finite = values[np.isfinite(values)]
    has_infinite = bool(np.isinf(values).any())
    return (float(np.abs(finite).max()) if len(finite) else 0.0), has_infinite


def capacity_of(rows: float, factor: int) -> int:
    """Room for the rows expected, with a little to spare."""
    return int(min(rows, 5e8) * 1.03 / factor) + 256


def nbytes_of(columns: Sequence[NumberColumn]) -> int:
    """Bytes taken so far."""
    return sum(column.nbytes for column in columns)
