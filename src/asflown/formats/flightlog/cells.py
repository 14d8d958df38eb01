"""What one cell of a text table is: a number, a time of day, a date, a word, or nothing."""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import StrEnum

#: Words that stand for no value (small letters); common practice, no source.
MISSING_WORDS = ("", "-", "--", "nan", "na", "n/a", "#n/a", "null", "none", "nil", "?", "*", "nat", "inf",
                 "-inf", "+inf", "infinity", "-infinity", "-nan")  # fmt: skip

#: Points or commas between groups of three digits.
COMMA_GROUPS = r"^[-+]?\d{1,3}(?:,\d{3})+(?:\.\d+)?$"
POINT_GROUPS = r"^[-+]?\d{1,3}(?:\.\d{3})+(?:,\d+)?$"
HEX = r"^0[xX]([0-9a-fA-F]{1,15})$"

_NUMBER = re.compile(r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?", re.ASCII)
_COMMA_NUMBER = re.compile(r"[-+]?(?:\d+,\d*|,\d+)(?:[eE][-+]?\d+)?", re.ASCII)
_POINT_NUMBER = re.compile(r"[-+]?\d*\.\d+(?:[eE][-+]?\d+)?", re.ASCII)
_COMMA_GROUPS, _POINT_GROUPS, _HEX = re.compile(COMMA_GROUPS), re.compile(POINT_GROUPS), re.compile(HEX)
_CLOCK = re.compile(r"\d{1,3}:\d{1,2}(?::\d{1,2})?(?:[.,]\d+)?", re.ASCII)
_DATE = re.compile(
    r"\d{4}[-/]\d{2}[-/]\d{2}(?:[T _]+\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?)?\s*(?:Z|UTC|[-+]\d{2}:?\d{2})?",
    re.ASCII,
)
#: Longest cell that may be a number or a time, characters.
_LONGEST = 100


class Kind(StrEnum):
    """How a cell or a whole column is read."""

    NUMBER = "number"
    CLOCK = "time of day"
    DATE = "date"
    WORD = "word"
    MISSING = "missing"


def kind_of(cell: str, decimal: str = ".") -> Kind:
    """The kind of one cell (blanks around it do not count)."""
    cell = cell.strip()
    if len(cell) > _LONGEST:
        return Kind.WORD
    if _NUMBER.fullmatch(cell):
        return Kind.NUMBER
    if cell.lower() in MISSING_WORDS:
        return Kind.MISSING
    if decimal == "," and (_COMMA_NUMBER.fullmatch(cell) or _POINT_GROUPS.match(cell)):
        return Kind.NUMBER
    if _HEX.match(cell) or (decimal == "." and "," in cell and _COMMA_GROUPS.match(cell)):
        return Kind.NUMBER
    if _CLOCK.fullmatch(cell):
        return Kind.CLOCK
    return Kind.DATE if _DATE.fullmatch(cell) else Kind.WORD


def decimal_of(cells: Iterable[str]) -> str:
    """Whether numbers are written with a decimal comma: when more cells show a comma than a point."""
    commas = points = 0
    for cell in cells:
        if len(cell) > _LONGEST:
            continue
        if "," in cell:
            cell = cell.strip()
            commas += bool(_COMMA_NUMBER.fullmatch(cell) or _POINT_GROUPS.match(cell))
        elif "." in cell:
            points += bool(_POINT_NUMBER.fullmatch(cell.strip())) and not _POINT_GROUPS.match(cell.strip())
    return "," if commas > points else "."


def column_kind(kinds: Iterable[Kind]) -> Kind:
    """The kind of a column from the kinds of some of its cells; missing where all are."""
    counts: dict[Kind, int] = {}
    for kind in kinds:
        counts[kind] = counts.get(kind, 0) + 1
    counts.pop(Kind.MISSING, None)
    total = sum(counts.values())
    if not total:
        return Kind.MISSING
    for kind in (Kind.NUMBER, Kind.DATE, Kind.CLOCK):
        if 2 * counts.get(kind, 0) > total:
            return kind
    return Kind.WORD
