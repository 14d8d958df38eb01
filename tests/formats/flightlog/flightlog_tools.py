"""Reading a log from bytes in one word, for tests."""

from __future__ import annotations

import numpy as np

from asflown.adapters.log_file import LogBytes
from asflown.core.log_table import LogTable
from asflown.formats.flightlog import read_log


def read(data: bytes | str, **options: object) -> LogTable:
    """The table of some bytes (text is written as UTF-8)."""
    return read_log(LogBytes("log.csv", data.encode() if isinstance(data, str) else data), **options)


def values(table: LogTable) -> dict[str, list[object]]:
    """Columns as lists: words, or numbers with ``None`` where one is missing."""
    return {
        column.name: list(column.words)
        if column.numbers is None
        else [None if np.isnan(number) else float(number) for number in column.numbers]
        for column in table.columns
    }


def facts(table: LogTable) -> dict[str, int]:
    """Counts of facts by kind."""
    made: dict[str, int] = {}
    for fact in table.facts:
        made[fact.kind] = made.get(fact.kind, 0) + fact.count
    return made
