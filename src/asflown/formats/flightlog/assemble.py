"""Pieces of blocks put together in order: columns, facts, and the decisions taken from the first piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.log_table import Column
from asflown.formats.flightlog.cells import Kind, column_kind, kind_of
from asflown.formats.flightlog.convert import to_numbers
from asflown.formats.flightlog.fitting import Fit
from asflown.formats.flightlog.gather import NumberColumn, WordColumn, capacity_of, largest_of
from asflown.formats.flightlog.precision import is_double, is_time
from asflown.formats.flightlog.rows import Piece, Plan
from asflown.formats.flightlog.tally import Tally

if TYPE_CHECKING:
    import numpy.typing as npt
    import polars as pl

_SECONDS = (Kind.CLOCK, Kind.DATE)
_HALF_A_DAY, _DAY = 43_200.0, 86_400.0


class Again(Exception):
    """The log must be read again: a column is of another kind, or it has far more or fewer rows."""

    def __init__(
        self, *, kinds: dict[int, Kind] | None = None, rows: float | None = None, is_counted: bool = False
    ) -> None:
        super().__init__()
        self.kinds = kinds or {}
        self.rows = rows
        self.is_counted = is_counted


@dataclass
class Assembly:
    """The table as far as it is read."""

    plan: Plan
    fit: Fit
    rows_expected: float
    rows: int = 0
    lines: int = 0
    tally: Tally = field(default_factory=Tally)
    numbers: dict[int, NumberColumn] = field(default_factory=dict)
    words: dict[int, WordColumn] = field(default_factory=dict)
    _clock: dict[int, tuple[float, float]] = field(default_factory=dict)

    def add(self, piece: Piece) -> None:
        """Take the next piece."""
        for number, (values, largest) in piece.numbers.items():
            if number in self.fit.left_out:
                continue
            if self.plan.kinds[number] is Kind.CLOCK:
                values = self._past_midnight(number, values)
            self._number(number, values, largest).add(values, largest)
        for number, texts in piece.texts.items():
            if number in self.fit.left_out:
                continue
            self._text(number, texts, piece)
        self.tally.take(piece.tally, self.lines)
        self.rows += piece.rows
        self.lines += piece.lines

    def _number(self, number: int, values: npt.NDArray[np.floating], largest: float) -> NumberColumn:
        found = self.numbers.get(number)
        if found is None:
            name, unit, _ = self.plan.sniffed.columns[number]
            is_clock = self.plan.kinds[number] in _SECONDS or is_time(name, unit, values)
            found = self.numbers[number] = NumberColumn(
                is_double=is_clock or is_double(values, largest),
                factor=self.fit.factor,
                is_picked=is_clock,
                capacity=capacity_of(self.rows_expected, self.fit.factor),
            )
            if self.rows:  # all its cells were empty so far
                found.add(np.full(self.rows, np.nan, np.float32), 0.0)
        return found

    def _text(self, number: int, texts: pl.Series, piece: Piece) -> None:
        """Words; or a column whose kind is open until its first filled cell comes."""
        kind = self.plan.kinds[number]
        if kind is Kind.MISSING and number not in self.words:
            if number in self.numbers:
                self._late_number(number, texts, Kind.NUMBER, piece)
                return
            kind = column_kind(kind_of(cell, self.decimal) for cell in texts.drop_nulls().head(500))
            if kind is Kind.MISSING:
                return
            if kind in _SECONDS:
                raise Again(kinds={number: kind})
            if kind is Kind.NUMBER:
                self._late_number(number, texts, kind, piece)
                return
        found = self.words.get(number)
        if found is None:
            found = self.words[number] = WordColumn(self.fit.factor)
            if self.rows:
                found.add(texts.clear(self.rows))
        found.add(texts)

    def _late_number(self, number: int, texts: pl.Series, kind: Kind, piece: Piece) -> None:
        made, unreadable, _ = to_numbers(texts, self.decimal, kind)
        count = int(unreadable.sum())
        if count:
            piece.tally.add("unreadable cells", unreadable.arg_max() or 0, count, number)
        values = made.to_numpy()
        largest, has_infinite = largest_of(values)
        if has_infinite:
            values = np.where(np.isinf(values), np.nan, values)
        self._number(number, values, largest).add(values, largest)

    @property
    def decimal(self) -> str:
        """The decimal mark."""
        return self.plan.sniffed.dialect.decimal

    def _past_midnight(self, number: int, values: npt.NDArray[np.floating]) -> npt.NDArray[np.floating]:
        """Time of day counted on past midnight: a fall by more than half a day adds a day."""
        last, days = self._clock.get(number, (np.nan, 0.0))
        whole = np.concatenate(([last], values))
        there = np.flatnonzero(np.isfinite(whole))
        falls = np.zeros(len(whole))
        falls[there[1:]] = np.diff(whole[there]) < -_HALF_A_DAY
        if falls.any():
            self.tally.add("midnight", self.lines + int(falls.argmax()) - 1, int(falls.sum()), number)
        if len(there):
            self._clock[number] = (float(whole[there[-1]]), days + _DAY * float(falls.sum()))
        return np.asarray(values + days + _DAY * np.cumsum(falls)[1:])

    def unfit(self) -> dict[int, Kind]:
        """Columns taken for numbers of which most filled cells are none: they are words."""
        made = {}
        for number in self.numbers:
            unreadable = self.tally.of("unreadable cells", number)
            if 2 * unreadable > self.rows:
                made[number] = Kind.WORD
        return made

    def columns(self) -> tuple[tuple[Column, ...], int]:
        """The columns that were read, in file order, and their rows."""
        kept = -(-self.rows // self.fit.factor)
        read = [number for number in self.plan.wanted if not self._is_left_out(number)]
        return tuple(self._column(number, kept) for number in read), kept

    def _is_left_out(self, number: int) -> bool:
        """Left out to fit; or nameless and empty: lines that end in a separator."""
        is_empty = number not in self.numbers and number not in self.words
        return number in self.fit.left_out or (is_empty and not self.plan.sniffed.columns[number][2])

    def _column(self, number: int, rows: int) -> Column:
        name, unit, whole = self.plan.sniffed.columns[number]
        if number in self.words:
            return Column(name, unit, None, self.words[number].done(rows), whole)
        if number in self.numbers:
            unit = "s" if self.plan.kinds[number] in _SECONDS else unit
            return Column(name, unit, self.numbers[number].done(rows), (), whole)
        return Column(name, unit, nothing(rows), (), whole)


def nothing(rows: int) -> npt.NDArray[np.float32]:
    """A column without any number: one value in memory for all rows."""
    return np.broadcast_to(np.float32(np.nan), (rows,))


def wanted_numbers(
    names: Sequence[tuple[str, str | None, str]], columns: Sequence[str] | None
) -> tuple[tuple[int, ...], list[str]]:
    """Numbers of the columns asked for by name or header cell, and the names that are none."""
    if columns is None:
        return tuple(range(len(names))), []
    by_name = {whole: number for number, (_, _, whole) in enumerate(names)}
    by_name |= {name: number for number, (name, _, _) in enumerate(names)}
    unknown = [name for name in columns if name not in by_name]
    return tuple(sorted({by_name[name] for name in columns if name in by_name})), unknown
