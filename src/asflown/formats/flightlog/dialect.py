"""How a text table is written: what separates cells, and the decimal mark."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.formats.flightlog.cells import Kind, decimal_of, kind_of

#: Marks that begin a line of comment.
COMMENTS = ("#", "%", "//")
_LINES = 40
_CELLS = 40_000
_SHAPES = {",": "csv", ";": "semicolon-separated", "\t": "tsv", "|": "pipe-separated", " ": "blank-separated"}


@dataclass(frozen=True, slots=True)
class Dialect:
    """How cells are told apart.

    Attributes
    ----------
    separator
        One character; a blank stands for any run of blanks and tabs. A comma where there is one column only.
    decimal
        ``.`` or ``,``.
    width
        Cells in most rows.
    """

    separator: str
    decimal: str
    width: int

    @property
    def blanks(self) -> bool:
        """Whether any run of blanks separates."""
        return self.separator == " "

    @property
    def shape(self) -> str:
        """The word for a table's shape."""
        return _SHAPES[self.separator]

    def split(self, line: str) -> list[str]:
        """The cells of one line, blanks around them taken off."""
        return [cell.strip() for cell in _split(line, self.separator)]


def is_comment(line: str, separator: str = "") -> bool:
    """Whether a line is a comment: ``;`` begins one too where it does not separate."""
    line = line.lstrip()
    return line.startswith(COMMENTS) or (line.startswith(";") and separator != ";")


def uncommented(line: str) -> str:
    """A comment line without its mark."""
    return line.lstrip().lstrip("#%/;").strip()


def _split(line: str, separator: str) -> list[str]:
    if '"' in line:
        try:
            skip = separator == " "
            line = " ".join(line.split()) if skip else line
            return next(csv.reader([line], delimiter=separator, skipinitialspace=True))
        except (csv.Error, StopIteration):
            pass
    return line.split() if separator == " " else line.split(separator)


def dialect_of(lines: Sequence[str]) -> Dialect | None:
    """The dialect under which most lines have the same number of cells and most cells are numbers.

    Parameters
    ----------
    lines
        The sample's lines, first to last.

    Returns
    -------
    Dialect or None
        ``None`` where no way of cutting gives a table.
    """
    body = [line for line in lines if line.strip() and not line.lstrip().startswith(COMMENTS)]
    body = [line for line in body if any(map(str.isdigit, line[:400]))] or body
    body = body[-_LINES:]
    best, found = 0.0, None
    for separator in _SHAPES:
        score, dialect = _tried(body, separator)
        if score > best + 1e-9:
            best, found = score, dialect
    return found if best > 0.15 else None


def _tried(body: Sequence[str], separator: str) -> tuple[float, Dialect | None]:
    if separator != " " and separator != "," and not any(separator in line for line in body):
        return 0.0, None
    rows = [_split(line, separator) for line in body]
    widths = Counter(len(row) for row in rows)
    if not widths:
        return 0.0, None
    width, count = max(widths.items(), key=lambda item: (item[1] * (item[0] > 1), item[0]))
    table = [row for row in rows if len(row) == width]
    table = table[(len(table) + 1) // 2 :][: max(3, _CELLS // width)] or table  # the first may be headers
    cells = [cell for row in table for cell in row]
    decimal = "." if separator == "," else decimal_of(cells)
    kinds = Counter(kind_of(cell, decimal) for cell in cells)
    filled = len(cells) - kinds[Kind.MISSING]
    share = (filled - kinds[Kind.WORD]) / filled if filled else 0.0
    score = count / len(rows) * (0.1 + share) * (1 - 0.6 / width)
    if separator == " " and all("\t" in line for line in body):
        score *= 0.8  # tabs in every line separate, unless blanks make more sense by far
    return score, Dialect(separator, decimal, width)
