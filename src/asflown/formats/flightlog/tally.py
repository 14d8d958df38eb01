"""What was odd while reading, counted, and the facts made of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from asflown.core.log_table import LogFact

_MOST_COLUMNS_TOLD = 8


@dataclass
class Tally:
    """Counts by kind and column (-1: the row), with the first line of each."""

    counts: dict[tuple[str, int], list[int]] = field(default_factory=dict)

    def add(self, kind: str, line: int, count: int = 1, column: int = -1) -> None:
        """Count one more; ``line`` is counted from 0."""
        found = self.counts.setdefault((kind, column), [0, line])
        found[0] += count
        found[1] = min(found[1], line)

    def take(self, other: Tally, offset: int) -> None:
        """Add what another found in lines that begin ``offset`` lines further on."""
        for (kind, column), (count, line) in other.counts.items():
            self.add(kind, line + offset, count, column)

    def of(self, kind: str, column: int = -1) -> int:
        """How many."""
        return self.counts.get((kind, column), [0])[0]


#: Kind of fact to its sentence; ``{n}`` the count, ``{line}`` the first line (from 1), ``{name}`` the column.
_ROW_SAYS = {
    "repeated header": "the header comes again {n} time(s), first in line {line}: the logger was restarted",
    "comment lines": "{n} comment line(s) among the rows left out, first line {line}",
    "repeated preamble": "{n} line(s) of preamble among the rows left out, first line {line}",
    "blank lines": "{n} blank line(s) among the rows left out, first line {line}",
    "short rows": "{n} row(s) have too few cells, first in line {line}; what they hold was kept, "
    "their last cell left out as it may be cut",
    "short rows padded": "{n} row(s) leave out their last cells, first in line {line}; read as empty",
    "long rows": "{n} row(s) have too many cells, first in line {line}; the first cells were kept",
    "cut last line": "the last line ({line}) is cut and was left out",
    "broken rows": "{n} line(s) without one whole cell left out, first line {line}",
    "stray quotes": "{n} line(s) have a quotation mark without its partner, first line {line}; "
    "it was left out",
    "zero bytes": "{n} zero byte(s) left out, first in line {line}: the logger may have lost power",
    "not UTF-8": "{n} byte(s) are no UTF-8, read as Windows-1252, first in line {line}",
    "overlong lines": "{n} line(s) are longer than 1 MB, left out, first line {line}",
}
_CELL_SAYS = {
    "unreadable cells": "{n} cell(s) of {name} (s)are no number, first in line {line}; read as missing",
    "infinite cells": "{n} cell(s) of {name} (s)are infinite, first in line {line}; read as missing",
    "thousands": "{n} cell(s) of {name} (s)are written in groups of thousands, first in line {line}",
    "midnight": "the time of day in {name} passes midnight {n} time(s), first in line {line}; counted on",
}


def facts_of(tally: Tally, names: Sequence[str]) -> list[LogFact]:
    """The facts, rows first, then cells by column in file order."""
    made = [
        _fact(kind, text, tally.counts[kind, -1])
        for kind, text in _ROW_SAYS.items()
        if (kind, -1) in tally.counts
    ]
    for kind, text in _CELL_SAYS.items():
        by_column = {column: found for (k, column), found in sorted(tally.counts.items()) if k == kind}
        made += _cell_facts(kind, text, by_column, names)
    return made


def _cell_facts(
    kind: str, text: str, by_column: Mapping[int, Sequence[int]], names: Sequence[str]
) -> Iterable[LogFact]:
    columns = list(by_column)
    for column in columns[:_MOST_COLUMNS_TOLD]:
        yield _fact(kind, text, by_column[column], f"'{names[column]}'")
    rest = columns[_MOST_COLUMNS_TOLD:]
    if rest:
        count = sum(by_column[column][0] for column in rest)
        first = min(by_column[column][1] for column in rest)
        yield _fact(kind, text, (count, first), f"{len(rest)} further columns")


def _fact(kind: str, text: str, found: Sequence[int], name: str = "") -> LogFact:
    count, line = found
    said = text.format(n=f"{count:,}", line=f"{line + 1:,}", name=name)
    if count == 1:
        said = (
            said.replace("(s) are", " is")
            .replace(" (s)are", " is")
            .replace("(s) have", " has")
            .replace("(s) leave", " leaves")
        )
    said = said.replace("(s)are", "are").replace("(s)", "" if count == 1 else "s")
    return LogFact(kind.removesuffix(" padded"), said, count)
