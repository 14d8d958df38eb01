"""One block of lines to columns: fast where every line is as the first, mended line by line where not."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.errors import InputError
from asflown.formats.flightlog.cells import Kind
from asflown.formats.flightlog.container import EXPORT
from asflown.formats.flightlog.convert import to_numbers
from asflown.formats.flightlog.encoding import mended
from asflown.formats.flightlog.gather import largest_of
from asflown.formats.flightlog.mend import Mended, mend
from asflown.formats.flightlog.polars_calls import FAULTS
from asflown.formats.flightlog.sniff import Sniffed
from asflown.formats.flightlog.tally import Tally

if TYPE_CHECKING:
    import numpy.typing as npt
    import polars as pl

    Numbers = npt.NDArray[np.floating]


@dataclass
class Plan:
    """How blocks are read.

    Attributes
    ----------
    wanted
        Numbers of the columns read, in file order.
    kinds
        Of every column.
    as_text
        Numeric columns with cells that polars cannot read as numbers: they are read as text. Grows while
        reading; a matter of speed alone.
    """

    sniffed: Sniffed
    wanted: tuple[int, ...]
    kinds: tuple[Kind, ...]
    as_text: set[int] = field(default_factory=set)

    @property
    def width(self) -> int:
        """Cells in a row."""
        return self.sniffed.dialect.width


@dataclass
class Piece:
    """What one block gave.

    Attributes
    ----------
    lines
        Lines in the block, also those that are no rows.
    numbers, texts
        By column number; the largest amount beside the numbers.
    tally
        What was odd, lines counted from the block's first.
    """

    rows: int
    lines: int
    numbers: dict[int, tuple[Numbers, float]]
    texts: dict[int, pl.Series]
    tally: Tally


def read_block(block: bytes, plan: Plan, *, is_last: bool) -> Piece:
    """Columns of one block of whole lines."""
    block, strange, line = mended(block)
    tally = Tally()
    if strange:
        tally.add("not UTF-8", line, strange)
    if plan.sniffed.dialect.blanks:
        block = _single_blanks(block)
    frame = _fast(block, plan)
    if frame is not None:
        return _piece(frame, frame.height, None, plan, tally)
    own = Tally()
    made = mend(block, plan.sniffed, own, is_last=is_last)
    frame = _careful(made, plan)
    if frame is None:  # quotes that polars pairs in another way
        own = Tally()
        own.add("stray quotes", block.count(b"\n", 0, block.find(b'"')), block.count(b'"'))
        made = mend(block.replace(b'"', b""), plan.sniffed, own, is_last=is_last)
        frame = _careful(made, plan)
    if frame is None:
        raise InputError("its lines cannot be cut into cells", next_step=EXPORT)
    tally.take(own, 0)
    return _piece(frame, made.lines, made.numbers, plan, tally)


# -- fast ---------------------------------------------------------------------------------------------------


def _fast(block: bytes, plan: Plan) -> pl.DataFrame | None:
    """The block by polars alone, ``None`` where anything in it is odd."""
    quotes = block.count(b'"') if b'"' in block else 0
    has_points = plan.sniffed.dialect.decimal == "," and b"." in block
    if quotes % 2 or has_points or b"\0" in block:
        return None
    try:
        frame = parsed(block, plan, plan.as_text, has_quotes=quotes > 0)
    except FAULTS:
        return None
    if not frame.height or _has_odd_nulls(frame, block, plan, quotes):
        return None
    if quotes and frame.height != _count(block, b"\n") + (not block.endswith(b"\n")):
        return None  # a quoted cell runs over the end of its line
    return frame


def _has_odd_nulls(frame: pl.DataFrame, block: bytes, plan: Plan, quotes: int) -> bool:
    """Whether short rows or blank lines may be in it: both leave the last cell of a row empty."""
    if not frame.get_column(column_name(plan.width - 1)).null_count():
        return False
    if plan.width == 1 or quotes:
        return True
    return _count(block, plan.sniffed.dialect.separator.encode()) != (plan.width - 1) * frame.height


def _count(block: bytes, byte: bytes) -> int:
    return int(np.count_nonzero(np.frombuffer(block, np.uint8) == byte[0]))


def column_name(number: int) -> str:
    """What a column is called in a frame (polars takes no other names for a choice of columns)."""
    return f"column_{number}"


def parsed(block: bytes, plan: Plan, as_text: set[int], *, has_quotes: bool) -> pl.DataFrame:
    """The wanted columns, the last and the first numeric one, by polars, see :func:`column_name`."""
    import polars as pl

    schema = {
        column_name(number): pl.Float64 if kind is Kind.NUMBER and number not in as_text else pl.String
        for number, kind in enumerate(plan.kinds)
    }
    probe = next((number for number, kind in enumerate(plan.kinds) if kind is Kind.NUMBER), 0)
    wanted = sorted({*plan.wanted, plan.width - 1, probe})  # a header that comes again is no number
    dialect = plan.sniffed.dialect
    return pl.read_csv(
        block,
        has_header=False,
        schema=schema,
        columns=None if len(wanted) == plan.width else [column_name(number) for number in wanted],
        separator=dialect.separator,
        quote_char='"' if has_quotes else None,
        decimal_comma=dialect.decimal == ",",
        infer_schema=False,
        raise_if_empty=False,
    )


def _single_blanks(block: bytes) -> bytes:
    """Every run of blanks and tabs as one blank, none at the ends of a line."""
    bytes_ = np.frombuffer(block, np.uint8)
    blank = (bytes_ == 32) | (bytes_ == 9)
    ends = (bytes_ == 10) | (bytes_ == 13)
    keep = ~blank
    keep[1:] |= blank[1:] & ~(blank[:-1] | ends[:-1])
    tight = np.where(blank, np.uint8(32), bytes_)[keep]
    before_end = np.zeros(len(tight), bool)
    if len(tight):
        before_end[:-1] = (tight[:-1] == 32) & ((tight[1:] == 10) | (tight[1:] == 13))
        before_end[-1] = tight[-1] == 32
    return bytes(tight[~before_end].tobytes())


# -- careful ------------------------------------------------------------------------------------------------


def _careful(made: Mended, plan: Plan) -> pl.DataFrame | None:
    """A mended block; columns that fail as numbers are found and read as text from here on."""
    import polars as pl

    if not len(made.numbers):
        return pl.DataFrame(schema={column_name(number): pl.String() for number in range(plan.width)})
    numeric = {number for number, kind in enumerate(plan.kinds) if kind is Kind.NUMBER}
    has_points = plan.sniffed.dialect.decimal == "," and b"." in made.block
    for as_text in [numeric] if has_points else [plan.as_text, numeric]:
        try:
            frame = parsed(made.block, plan, set(as_text), has_quotes=made.has_quotes)
        except FAULTS:
            continue
        if frame.height == len(made.numbers):
            if as_text is numeric:
                _learn(frame, numeric & set(plan.wanted), plan)
            return frame
    return None


def _learn(frame: pl.DataFrame, numeric: set[int], plan: Plan) -> None:
    """Find the numeric columns that polars cannot read: they are read as text from here on."""
    import polars as pl

    for number in numeric:
        texts = frame.get_column(column_name(number))
        if texts.null_count() != texts.cast(pl.Float64, strict=False).null_count():
            plan.as_text.add(number)


def _piece(
    frame: pl.DataFrame, lines: int, places: npt.NDArray[np.int64] | None, plan: Plan, tally: Tally
) -> Piece:
    piece = Piece(frame.height, lines, {}, {}, tally)
    for number in plan.wanted:
        column = frame.get_column(column_name(number))
        kind = plan.kinds[number]
        if kind in (Kind.WORD, Kind.MISSING):
            piece.texts[number] = column
        else:
            piece.numbers[number] = numbers_of(column, kind, plan, number, places, tally)
    return piece


def numbers_of(
    column: pl.Series,
    kind: Kind,
    plan: Plan,
    number: int,
    places: npt.NDArray[np.int64] | None,
    tally: Tally,
) -> tuple[Numbers, float]:
    """A column's numbers and the largest amount, what is odd counted."""
    import polars as pl

    def line(row: int) -> int:
        return row if places is None else int(places[row])

    if column.dtype == pl.String:
        column, unreadable, thousands = to_numbers(column, plan.sniffed.dialect.decimal, kind)
        count = int(unreadable.sum())
        if count:
            tally.add("unreadable cells", line(unreadable.arg_max() or 0), count, number)
        if thousands is not None:
            tally.add("thousands", line(thousands.arg_max() or 0), int(thousands.sum()), number)
    values: Numbers = column.to_numpy()
    largest, has_infinite = largest_of(values)
    if has_infinite:
        infinite = np.isinf(values)
        tally.add("infinite cells", line(int(infinite.argmax())), int(infinite.sum()), number)
        values = np.where(infinite, np.nan, values)
    return values, largest
