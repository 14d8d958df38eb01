"""From a log file to a flight in SI units: read, find the layout, settle what is open."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from asflown.core.flight import Conditions, Flight
from asflown.core.layout import Doubt, Layout, fingerprint
from asflown.core.log_table import LogTable
from asflown.errors import InputError, UsageError

if TYPE_CHECKING:
    from asflown.app.needs import Store
    from asflown.formats.flightlog import LogSource

#: Rows read to see the header.
_HEAD_ROWS = 50

Progress = Callable[[float], None]

NOTHING_STATED = Conditions()


class KnownBy(StrEnum):
    """Where a layout comes from."""

    FILE = "layout file"
    REMEMBERED = "remembered"
    PROPOSED = "proposed"


@dataclass(frozen=True)
class Said:
    """What a person said about a log's columns.

    Attributes
    ----------
    assume
        By signal or family: a column or a unit (``rate`` → ``deg/s``).
    layout
        Text of a layout file and its name.
    is_at_rest
        It was logged on the ground.
    """

    assume: Mapping[str, str] = field(default_factory=dict)
    layout: tuple[str, str] | None = None
    is_at_rest: bool = False


NOTHING_SAID = Said()


@dataclass(frozen=True, eq=False)
class Opened:
    """A log that was read, and what its columns are taken to be.

    Attributes
    ----------
    name, size
        Of the file; bytes.
    taken
        Doubts that were passed over with their likeliest choice.
    is_at_rest
        It is said to be logged on the ground.
    """

    name: str
    size: int
    table: LogTable
    layout: Layout
    known_by: KnownBy
    taken: tuple[Doubt, ...] = ()
    is_at_rest: bool = False

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What the layout leaves open."""
        return self.layout.doubts

    @property
    def is_confirmed(self) -> bool:
        """Whether a person confirmed the layout."""
        return self.layout.is_confirmed

    def flight(self, conditions: Conditions = NOTHING_STATED) -> Flight:
        """The flight in SI units.

        Raises
        ------
        InputError
            When no column is the time, or the layout does not fit the log.
        """
        from asflown.core.columns.apply import apply_layout

        try:
            return apply_layout(self.table, self.layout, conditions)
        except InputError as error:
            raise InputError(
                error.what,
                where=self.name,
                faults=error.faults,
                next_step="state it: --assume time=COLUMN, or the rate of rows: --assume 'time=1000 Hz'"
                if self.layout.of("time") is None
                else error.next_step,
            ) from None


def open_log(
    source: LogSource,
    said: Said = NOTHING_SAID,
    *,
    store: Store | None = None,
    progress: Progress | None = None,
) -> Opened:
    """Read a log and find its layout: the file given, else the one remembered, else a proposal.

    Only the columns that are signals are read where the layout is known beforehand.

    Raises
    ------
    InputError
        When it is no log, or a layout or statement does not fit it.
    UsageError
        When a layout file and statements are given together.
    """
    if said.layout is not None and said.assume:
        raise UsageError(
            "a layout file and --assume were given together",
            next_step="leave one out; --assume corrects what is proposed, a layout file says all of it",
        )
    if said.layout is not None:
        return _by_file(source, said.layout, progress)
    known = None if said.assume or store is None else _remembered(source, store)
    if known is not None:
        return _by_known(source, known, KnownBy.REMEMBERED, progress)
    from asflown.core.columns.propose import propose

    table = _read(source, None, progress)
    layout = propose(table, assume=said.assume, is_at_rest=said.is_at_rest)
    return Opened(source.name, source.size, table, layout, KnownBy.PROPOSED, is_at_rest=said.is_at_rest)


def _read(source: LogSource, layout: Layout | None, progress: Progress | None) -> LogTable:
    from asflown.formats.flightlog import read_log

    columns = None if layout is None else tuple(a.column for a in layout.assignments if a.column[:1] != "(")
    return read_log(source, columns=columns, progress=progress)


def _head(source: LogSource) -> LogTable:
    from asflown.formats.flightlog import read_log

    return read_log(source, rows=_HEAD_ROWS)


def _remembered(source: LogSource, store: Store) -> Layout | None:
    from asflown.app.flights.layouts import KIND, remembered

    if not store.documents(KIND):
        return None
    return remembered(store, fingerprint(_head(source).header))


def _by_file(source: LogSource, written: tuple[str, str], progress: Progress | None) -> Opened:
    from asflown.core.columns.check import merge
    from asflown.formats.layout_toml import read_layout

    layout = read_layout(*written)
    if fingerprint(_head(source).header) == layout.fingerprint:
        return _by_known(source, layout, KnownBy.FILE, progress)
    table = _read(source, None, progress)
    return Opened(source.name, source.size, table, merge(layout, table), KnownBy.FILE)


def _by_known(source: LogSource, layout: Layout, known_by: KnownBy, progress: Progress | None) -> Opened:
    from asflown.core.columns.check import check

    table = _read(source, layout, progress)
    doubts = check(layout, table)
    settled = replace(layout, doubts=doubts, is_confirmed=layout.is_confirmed and not doubts)
    return Opened(source.name, source.size, table, settled, known_by)
