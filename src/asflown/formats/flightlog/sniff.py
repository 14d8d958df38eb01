"""The layout of a text table from its first lines: preamble, header, units, where the data begins."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.errors import InputError
from asflown.formats.flightlog.cells import Kind, column_kind, kind_of
from asflown.formats.flightlog.container import EXPORT
from asflown.formats.flightlog.dialect import Dialect, dialect_of, is_comment, uncommented
from asflown.formats.flightlog.header import looks_like_units, named

_SAMPLE_CELLS = 60_000
_STATED = re.compile(r"^([^\s:=,;\t|][^:=,;\t|]{0,60}?)\s*[:=,;\t|]\s*(\S.*)$")
_DIGIT = re.compile(r"\d")
_KEY_VALUE = re.compile(r"^[^\W\d][^:=,;\t|]{0,60}[:=]")
_MOST_COLUMNS = 20_000


@dataclass(frozen=True)
class Sniffed:
    """What the first lines say.

    Attributes
    ----------
    columns
        Name, unit and header cell of each column.
    kinds
        Of each column, from the sample; missing where all its cells are.
    skip
        Lines before the first row.
    preamble
        Those of them that are neither header nor units, as written.
    stated
        ``key: value`` lines of the preamble.
    heads
        Header and units lines as written: they may come again.
    twice
        Names that stood for several columns.
    short_is_style
        Whether rows leave out their empty last cells.
    """

    dialect: Dialect
    columns: tuple[tuple[str, str | None, str], ...]
    kinds: tuple[Kind, ...]
    skip: int
    preamble: tuple[str, ...] = ()
    stated: dict[str, str] | None = None
    heads: tuple[str, ...] = ()
    has_header: bool = True
    twice: tuple[str, ...] = ()
    short_is_style: bool = False


def sniff(lines: Sequence[str], name: str) -> Sniffed:
    """Tell the layout from the first lines of a file (the last of them whole).

    Raises
    ------
    InputError
        When they hold no table, or no row.
    """
    if not any(line.strip() for line in lines):
        raise InputError("holds no line of text", where=name, next_step="bring a log with a header and rows")
    dialect = dialect_of(lines)
    if dialect is None:
        raise _no_table(lines, name)
    rows = _rows(lines, dialect)
    full = [cells for at, cells in rows if len(cells) == dialect.width and _DIGIT.search(lines[at])]
    kinds = _kinds(full[(len(full) + 1) // 2 :] or full, dialect)
    start = _first_row(rows, kinds, dialect)
    if start is None:
        raise _no_row(lines, dialect, name)
    widest = max(len(cells) for at, cells in rows if at >= start)
    header_at, units_at = _header(lines, start, dialect, widest)
    if header_at is None and _is_preamble([line for line in lines if line.strip()]):
        raise _no_table(lines, name)
    header = [] if header_at is None else _header_cells(lines[header_at], dialect)
    width = max(dialect.width, len(header))
    if width > _MOST_COLUMNS:
        raise InputError(f"has {width} columns; at most {_MOST_COLUMNS} are read", where=name,
                         next_step="export fewer columns")  # fmt: skip
    body = [cells for at, cells in rows if at >= start and _DIGIT.search(lines[at])]
    return _put_together(lines, body, dialect, start, header_at, units_at, header, width)


def _put_together(
    lines: Sequence[str],
    body: list[list[str]],
    dialect: Dialect,
    start: int,
    header_at: int | None,
    units_at: int | None,
    header: list[str],
    width: int,
) -> Sniffed:
    cells = [*header, *[""] * (width - len(header))]
    if header_at is None:
        cells = [f"column {number + 1}" for number in range(width)]
    units = [] if units_at is None else _header_cells(lines[units_at], dialect)
    columns, twice = named(cells, units)
    heads = [at for at in (header_at, units_at) if at is not None]
    preamble = tuple(lines[at] for at in range(start) if at not in heads and lines[at].strip())
    short = sum(len(row) < width for row in body[:-1])
    return Sniffed(
        dialect=Dialect(dialect.separator, dialect.decimal, width),
        columns=tuple(columns),
        kinds=_kinds(body, Dialect(dialect.separator, dialect.decimal, width)),
        skip=start,
        preamble=preamble,
        stated=_stated(preamble),
        heads=tuple(lines[at] for at in heads),
        has_header=header_at is not None,
        twice=tuple(twice),
        short_is_style=2 * short >= max(2, len(body)) or (100 * short >= len(body) and short > 2),
    )


def _rows(lines: Sequence[str], dialect: Dialect) -> list[tuple[int, list[str]]]:
    most = max(60, min(400, _SAMPLE_CELLS // dialect.width))
    places = [at for at, line in enumerate(lines) if line.strip()]
    kept = places if len(places) <= 2 * most else [*places[:most], *places[-most:]]
    return [(at, dialect.split(lines[at])) for at in kept]


def _kinds(rows: Sequence[list[str]], dialect: Dialect) -> tuple[Kind, ...]:
    rows = rows[-max(8, _SAMPLE_CELLS // (2 * dialect.width)) :][:200] if len(rows) > 8 else rows
    made: list[list[Kind]] = [[] for _ in range(dialect.width)]
    for row in rows:
        if 2 * len(row) < dialect.width:
            continue
        for place, cell in enumerate(row[: dialect.width]):
            made[place].append(kind_of(cell, dialect.decimal))
    return tuple(column_kind(kinds) for kinds in made)


def _first_row(rows: Sequence[tuple[int, list[str]]], kinds: Sequence[Kind], dialect: Dialect) -> int | None:
    """The line number (from 0) of the first row of data."""
    known = [place for place, kind in enumerate(kinds) if kind not in (Kind.WORD, Kind.MISSING)]
    wordy = [at for at, cells in rows if len(cells) == dialect.width]
    if not known:  # words alone: the first full line is the header
        return next((at for at in wordy[1:]), None)
    for at, cells in rows:
        if 2 * len(cells) <= dialect.width and dialect.width > 2:
            continue
        of = [kind_of(cells[place], dialect.decimal) for place in known if place < len(cells)]
        filled = [kind for kind in of if kind is not Kind.MISSING]
        numbers = sum(kind is not Kind.WORD for kind in filled)
        needed = 0.34 if filled and filled[0] is not Kind.WORD else 0.7
        if filled and numbers >= needed * len(filled):
            return at
    return None


def _header(lines: Sequence[str], start: int, dialect: Dialect, widest: int) -> tuple[int | None, int | None]:
    """Line numbers of the header and of the units row."""
    above = [at for at in range(start - 1, -1, -1) if lines[at].strip()][:3]
    if not above:
        return None, None
    cells = [_header_cells(lines[at], dialect) for at in above]
    fits = [_fits(row, dialect.width, widest) for row in cells]
    if len(above) > 1 and fits[1] and len(cells[0]) >= dialect.width // 2 and looks_like_units(cells[0]):
        return above[1], above[0]
    if fits[0]:
        return above[0], None
    if len(above) > 1 and fits[1] and not is_comment(lines[above[1]]) and is_comment(lines[above[0]]):
        return above[1], None
    return None, None


def _fits(cells: Sequence[str], width: int, widest: int) -> bool:
    """Whether cells may head a table: about as many as it is wide, most of them words.

    Where rows leave out their last empty cells, the header is as wide as the widest.
    """
    if width == 1:
        return len(cells) == 1 and len(cells[0]) < 80 and kind_of(cells[0]) is Kind.WORD
    if not width - 1 <= len(cells) <= max(width + 1, int(1.2 * width), widest):
        return False
    words = sum(kind_of(cell) is Kind.WORD for cell in cells)
    return 2 * words > len([cell for cell in cells if cell])


def _header_cells(line: str, dialect: Dialect) -> list[str]:
    """Header cells; a commented header may be cut in another way than its rows."""
    is_commented = is_comment(line, dialect.separator)
    text = uncommented(line) if is_commented else line.strip("\r\n\ufeff")
    cells = dialect.split(text)
    if is_commented and len(cells) != dialect.width:
        for separator in (",", ";", "\t", "|", " "):
            other = Dialect(separator, ".", dialect.width).split(text)
            if len(other) == dialect.width:
                return other
    while len(cells) > dialect.width and not cells[-1]:
        cells.pop()
    return cells


def _stated(preamble: Sequence[str]) -> dict[str, str]:
    made: dict[str, str] = {}
    for line in preamble:
        match = _STATED.match(uncommented(line) if is_comment(line) else line.strip())
        if match and len(made) < 1000:
            made.setdefault(match[1].strip().strip('"'), match[2].strip().strip('"').rstrip(",;\t| "))
    return made


def _is_preamble(lines: Sequence[str]) -> bool:
    """Whether every line is a comment or ``key: value`` with a key of letters."""
    return all(is_comment(line) or _KEY_VALUE.match(line.strip()) for line in lines)


def _no_table(lines: Sequence[str], name: str) -> InputError:
    filled = [line for line in lines if line.strip()]
    if _is_preamble(filled):
        count = f"{len(filled)} line{'s' if len(filled) > 1 else ''}"
        step = "export the log again with its rows"
        return InputError(f"holds {count} of preamble and no table", where=name, next_step=step)
    own = [line for line in filled if not is_comment(line)] or filled
    cells = max(len(Dialect(mark, ".", 1).split(own[-1])) for mark in ",;\t|")
    if cells > 1 and (len(own) == 1 or _is_preamble(own[:-1])):
        step = "bring a log that was written while flying"
        return InputError(f"holds a header of {cells} columns and no row", where=name, next_step=step)
    return InputError("no rows of numbers were found in it", where=name, next_step=EXPORT)


def _no_row(lines: Sequence[str], dialect: Dialect, name: str) -> InputError:
    count = sum(1 for line in lines if line.strip())
    what = (
        f"holds a header of {dialect.width} columns and no row"
        if count <= 2
        else "no row of numbers was found"
    )
    return InputError(what, where=name, next_step="bring a log that was written while flying")
