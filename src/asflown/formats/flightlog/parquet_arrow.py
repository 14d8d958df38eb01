"""Parquet and Arrow files and streams, column by column, by polars."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from asflown.core.log_table import Column, LogFact, LogTable
from asflown.errors import InputError
from asflown.formats.flightlog.container import Container
from asflown.formats.flightlog.delimited import no_columns
from asflown.formats.flightlog.fitting import Fit, facts_of_fit, fit_to
from asflown.formats.flightlog.gather import NumberColumn, WordColumn, largest_of
from asflown.formats.flightlog.header import named
from asflown.formats.flightlog.polars_calls import FAULTS, hushed, said
from asflown.formats.flightlog.precision import is_double, is_time, rate_of
from asflown.formats.flightlog.source import LogSource
from asflown.formats.flightlog.tally import Tally, facts_of

if TYPE_CHECKING:
    import numpy.typing as npt
    import polars as pl

    Numbers = npt.NDArray[np.floating]

Made = TypeVar("Made")
_HEAD = 20_000
_WORKERS = 2
_STEP = "export the log again, or as CSV"


def read_columnar(
    source: LogSource,
    container: Container,
    *,
    rows: int | None,
    columns: Sequence[str] | None,
    limit_bytes: int,
    progress: Callable[[float], None] | None,
) -> LogTable:
    """Read a Parquet or Arrow log."""
    return _Columnar(source, container, rows, limit_bytes).read(columns, progress)


class _Columnar:
    """One columnar file."""

    def __init__(self, source: LogSource, container: Container, most: int | None, limit: int) -> None:
        self.source, self.container, self.most, self.limit = source, container, most, limit
        self.tally = Tally()
        self._bytes: bytes | None = None

    def read(self, asked: Sequence[str] | None, progress: Callable[[float], None] | None) -> LogTable:
        """Read the columns asked for."""
        schema, total = self._schema()
        rows = total if self.most is None else min(total, self.most)
        names, twice = named(list(schema), [])
        wanted = self._wanted(list(schema), names, asked)
        if not rows:
            raise InputError("holds columns and no row", where=self.source.name,
                             next_step="bring a log that was written while flying")  # fmt: skip
        flat = [number for number in wanted if _is_read(list(schema.values())[number])]
        if not flat:
            raise InputError("no column holds numbers or words", where=self.source.name, next_step=_STEP)
        fit = self._fit(flat, names, list(schema), rows)
        kept = [number for number in flat if number not in fit.left_out]
        made = self._columns(kept, names, list(schema), rows, fit, progress)
        facts = [*self._schema_facts(schema, wanted), *facts_of(self.tally, [name for name, _, _ in names])]
        if twice:
            facts.append(LogFact("repeated names", "some names differ by their unit alone", len(twice)))
        facts += facts_of_fit(fit, {n: name for n, (name, _, _) in enumerate(names)}, rows, self.limit)
        return LogTable(tuple(made), math.ceil(rows / fit.factor), str(self.container), facts=tuple(facts),
                        thinned=fit.factor)  # fmt: skip

    # -- calls of polars ------------------------------------------------------------------------------------

    def _call(self, read: Callable[[], Made]) -> Made:
        """Call polars; what it raises as an error a person can act on."""
        try:
            with hushed():
                return read()
        except FAULTS as error:
            what = f"is damaged or no whole {self.container} file: {said(error)}"
            raise InputError(what, where=self.source.name, next_step=_STEP) from None

    def _place(self) -> Any:
        """What polars reads from: the path, or the bytes where there is none."""
        if self.source.path is not None:
            return self.source.path
        if self._bytes is None:
            with self.source.open() as stream:
                self._bytes = stream.read()
        return BytesIO(self._bytes)

    def _schema(self) -> tuple[dict[str, pl.DataType], int]:
        import polars as pl

        if self.container is Container.PARQUET:

            def look() -> tuple[dict[str, pl.DataType], int]:
                frame = pl.scan_parquet(self._place(), glob=False)
                count = frame.select(pl.len()).collect().item()
                return dict(frame.collect_schema()), int(count)

        else:

            def look() -> tuple[dict[str, pl.DataType], int]:
                frame = self._arrow(None, None)
                return dict(frame.schema), frame.height

        schema, total = self._call(look)
        if not schema:
            raise InputError("has no column", where=self.source.name, next_step=_STEP)
        return schema, total

    def _arrow(self, columns: list[str] | None, rows: int | None) -> pl.DataFrame:
        import polars as pl

        if self.container is Container.ARROW_STREAM:
            return pl.read_ipc_stream(self._place(), columns=columns, n_rows=rows)
        frame = pl.scan_ipc(self._place(), n_rows=rows, glob=False)
        return (frame if columns is None else frame.select(columns)).collect()

    def _frame(self, columns: list[str], rows: int | None) -> pl.DataFrame:
        """Some columns of the first rows."""
        import polars as pl

        if self.container is Container.PARQUET:
            return self._call(
                lambda: pl.scan_parquet(self._place(), glob=False, n_rows=rows).select(columns).collect()
            )
        return self._call(lambda: self._arrow(columns, rows))

    # -- decisions ------------------------------------------------------------------------------------------

    def _wanted(
        self, header: list[str], names: list[tuple[str, str | None, str]], asked: Sequence[str] | None
    ) -> list[int]:
        if asked is None:
            return list(range(len(header)))
        known = {cell: number for number, cell in enumerate(header)}
        known |= {name: number for number, (name, _, _) in enumerate(names)}
        unknown = [name for name in asked if name not in known]
        if unknown:
            raise no_columns(unknown, [name for name, _, _ in names], self.source.name)
        return sorted({known[name] for name in asked})

    def _fit(
        self, wanted: list[int], names: list[tuple[str, str | None, str]], header: list[str], rows: int
    ) -> Fit:
        if rows * 8 * len(wanted) <= self.limit:
            return Fit()
        sizes, times, rate = {}, set(), None
        head = self._frame([header[number] for number in wanted], _HEAD)
        for number in wanted:
            column = head.get_column(header[number])
            values = _numbers(column)
            if values is None:
                sizes[number] = 8
                continue
            name, unit, _ = names[number]
            if is_time(name, unit, values) or column.dtype.is_temporal():
                times.add(number)
                rate = rate or rate_of(values, "s" if column.dtype.is_temporal() else unit)
            sizes[number] = 8 if number in times or is_double(values, largest_of(values)[0]) else 4
        return fit_to(self.limit, rows, sizes, frozenset(times), rate)

    # -- columns --------------------------------------------------------------------------------------------

    def _columns(
        self,
        wanted: list[int],
        names: list[tuple[str, str | None, str]],
        header: list[str],
        rows: int,
        fit: Fit,
        progress: Callable[[float], None] | None,
    ) -> list[Column]:
        """All columns in one call where they fit, else one after the other."""
        step = len(wanted) if fit.factor == 1 and not fit.left_out else 1
        made: list[Column] = []
        for begin in range(0, len(wanted), step):
            part = wanted[begin : begin + step]
            frame = self._frame([header[number] for number in part], self.most)
            if frame.height != rows and self.most is None:
                raise InputError("its columns differ in length", where=self.source.name, next_step=_STEP)
            series = [frame.to_series(place) for place in range(len(part))]
            with ThreadPoolExecutor(_WORKERS) as pool:  # numpy leaves Python's lock
                made += pool.map(lambda one, number: self._column(one, number, names, fit), series, part)
            if progress is not None:
                progress(len(made) / len(wanted))
        return made

    def _column(
        self, series: pl.Series, number: int, names: list[tuple[str, str | None, str]], fit: Fit
    ) -> Column:
        name, unit, whole = names[number]
        values = _numbers(series)
        if values is None:
            return Column(name, unit, None, self._words(series, fit.factor), whole)
        largest, has_infinite = largest_of(values)
        if has_infinite:
            infinite = np.isinf(values)
            self.tally.add("infinite cells", int(infinite.argmax()), int(infinite.sum()), number)
            values = np.where(infinite, np.nan, values).astype(values.dtype)
        is_clock = series.dtype.is_temporal() or is_time(name, unit, values)
        is_wide = is_clock or (values.dtype == np.float64 and is_double(values, largest))
        unit = "s" if series.dtype.is_temporal() else unit
        return Column(name, unit, _kept(values, largest, is_wide, is_clock, fit.factor), (), whole)

    def _words(self, series: pl.Series, factor: int) -> tuple[str, ...]:
        import polars as pl

        words = WordColumn(factor)
        texts = self._call(lambda: series.cast(pl.String, strict=False))
        words.add(texts)
        return words.done(-(-len(series) // factor))

    def _schema_facts(self, schema: dict[str, pl.DataType], wanted: list[int]) -> list[LogFact]:
        nested = [
            name
            for number, (name, kind) in enumerate(schema.items())
            if number in wanted and not _is_read(kind)
        ]
        if not nested:
            return []
        told = ", ".join(f"'{name}'" for name in nested[:8])
        count = f"{len(nested)} column{'s' if len(nested) > 1 else ''}"
        said_ = f"{count} of lists, structures or bytes not read: {told}"
        return [LogFact("columns not read", said_, len(nested))]


def _is_read(kind: pl.DataType) -> bool:
    import polars as pl

    words = (pl.Boolean, pl.String, pl.Categorical, pl.Enum, pl.Null)
    return kind.is_numeric() or kind.is_temporal() or kind in words or isinstance(kind, words)


def _numbers(series: pl.Series) -> Numbers | None:
    """Numbers of a column, times as seconds; ``None`` for words and truth values."""
    import polars as pl

    kind = series.dtype
    if kind.is_temporal():
        return _seconds(series)
    if kind == pl.Null:
        return np.full(len(series), np.nan, np.float32)
    if not kind.is_numeric():
        return None
    if kind not in (pl.Float32, pl.Float64):
        is_small = kind in (pl.Int8, pl.UInt8, pl.Int16, pl.UInt16)
        series = series.cast(pl.Float32 if is_small else pl.Float64, strict=False)
    return np.asarray(series.to_numpy())


def _seconds(series: pl.Series) -> Numbers:
    """Seconds since 1970-01-01 UTC, since midnight, or of a duration."""
    import polars as pl

    kind = series.dtype
    if kind == pl.Date:
        return np.asarray(series.cast(pl.Int32).cast(pl.Float64).to_numpy() * 86_400.0)
    unit = getattr(kind, "time_unit", None) or "ns"
    per_second = {"ns": 1e9, "us": 1e6, "ms": 1e3}[unit]
    return np.asarray(series.to_physical().cast(pl.Float64).to_numpy() / per_second)


def _kept(values: Numbers, largest: float, is_wide: bool, is_picked: bool, factor: int) -> Numbers:
    """The column as it is kept: thinned, in the precision it needs, read-only."""
    if factor > 1:
        column = NumberColumn(
            is_double=is_wide, factor=factor, is_picked=is_picked, capacity=len(values) // factor + 256
        )
        column.add(values, largest)
        return column.done(-(-len(values) // factor))
    made: Numbers = values.astype(np.float64 if is_wide else np.float32, copy=False)
    made = made if made is not values or not made.flags.writeable else made.view()
    made.flags.writeable = False
    return made
