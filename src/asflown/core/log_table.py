"""A log as it lies in its file: columns with their header words, not yet said to be anything."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Numbers = npt.NDArray[np.floating]


@dataclass(frozen=True, eq=False)
class Column:
    """One column.

    Attributes
    ----------
    name
        As the header writes it, without its unit.
    unit
        As the header writes it (``deg/s``, ``[rad s^-1]`` → ``rad s^-1``), ``None`` where it writes none.
    numbers
        (rows,) float32 or float64, read-only, not a number where a cell was empty or
        unreadable; ``None`` for words.
    words
        (rows,) texts for a column that is not numeric, else empty.
    header
        The whole header cell.
    """

    name: str
    unit: str | None
    numbers: Numbers | None = None
    words: tuple[str, ...] = ()
    header: str = ""


@dataclass(frozen=True, slots=True)
class LogFact:
    """Something about the file itself that a person should know, with the count it concerns.

    Attributes
    ----------
    kind
        ``preamble``, ``repeated header``, ``cut last line``, ``unreadable cells``, ``short rows`` …
    statement
        One sentence with its number and, where it has one, the line.
    count
        Rows, lines or cells concerned.
    """

    kind: str
    statement: str
    count: int = 0


@dataclass(frozen=True, eq=False)
class LogTable:
    """The whole table, or as many rows as were asked for.

    Attributes
    ----------
    columns
        In file order; every column has ``rows`` entries.
    shape
        ``csv``, ``tsv``, ``parquet``, ``arrow`` …
    preamble
        Lines before the header, as written.
    facts
        What was noticed while reading.
    sha256
        Of the file's bytes, empty where only a head was read.
    thinned
        By what whole number rows were decimated (with an anti-alias filter) while reading; 1 for none.
    """

    columns: tuple[Column, ...]
    rows: int
    shape: str
    preamble: tuple[str, ...] = ()
    facts: tuple[LogFact, ...] = ()
    sha256: str = ""
    thinned: int = 1
    stated: dict[str, str] = field(default_factory=dict)  # ``key: value`` lines of the preamble

    def column(self, name: str) -> Column | None:
        """The column of that header name, ``None`` where there is none."""
        return next((column for column in self.columns if column.name == name), None)

    @property
    def header(self) -> tuple[str, ...]:
        """The header cells as written; a layout is remembered by their fingerprint."""
        return tuple(column.header for column in self.columns)
