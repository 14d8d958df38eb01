"""The life of an aircraft along time: what its logbook holds, in rows of one kind, with round moments."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from asflown.app.logbook import Book
from asflown.app.views.entry_said import said
from asflown.app.views.sheet import counted

#: Rows from the lowest up, and the kinds of entries in each; a kind of a later asflown stands in ``other``.
ROWS: Mapping[str, tuple[str, ...]] = {
    "aircraft": ("aircraft", "received", "hand-over"),
    "records": ("record", "correction", "comparison"),
    "refits": ("plan", "decision", "not now", "write-out", "replies", "read-back", "went back"),
    "bench": ("gate", "card", "image", "load", "port plan", "calibration"),
    "flights": ("flight", "evidence"),
    "verdicts": ("margins", "verdict"),
    "sign-offs": ("sign-off",),
}
OTHER = "other"
_DAY = 86400.0
#: Steps of the moments under the axis, s, and how many of them there are at most.
_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200)
_DAYS = (1, 2, 7, 14, 30, 60, 91, 182, 365, 730, 1826, 3652)
_MOST = 4


@dataclass(frozen=True, slots=True)
class Moment:
    """One entry.

    Attributes
    ----------
    days
        Since the first entry.
    row
        Its place among the rows.
    """

    days: float
    row: int
    says: str


@dataclass(frozen=True)
class Timeline:
    """What is drawn of a logbook.

    Attributes
    ----------
    rows
        Names of the rows that hold something, lowest first.
    ticks
        Days since the first entry, and the moment in words, UTC.
    says
        One sentence.
    """

    name: str
    rows: tuple[str, ...]
    moments: tuple[Moment, ...]
    ticks: tuple[tuple[float, str], ...]
    says: str


def timeline(read: Book) -> Timeline:
    """The entries of a logbook along time; one whose time cannot be read is counted in the sentence."""
    entries = [*read.received, *read.entries]
    timed = [(at, entry) for entry in entries if (at := _when(entry.at)) is not None]
    timed.sort(key=lambda pair: pair[0])
    of = {kind: row for row, kinds in ROWS.items() for kind in kinds}
    found = [(at, of.get(entry.kind, OTHER), entry) for at, entry in timed]
    rows = tuple(row for row in (*ROWS, OTHER) if any(here == row for _, here, _ in found))
    if not found:
        return Timeline(read.name, (), (), (), f"The logbook of {read.name} holds nothing yet.")
    first, last = found[0][0], found[-1][0]
    moments = tuple(
        Moment((at - first).total_seconds() / _DAY, rows.index(row), f"{at:%Y-%m-%d %H:%M}: {said(entry)}")
        for at, row, entry in found
    )
    return Timeline(
        read.name, rows, moments, _ticks(first, last), _says(read, found, len(entries) - len(timed))
    )


def _when(text: str) -> datetime | None:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


def _says(read: Book, found: Sequence[tuple[datetime, str, object]], untimed: int) -> str:
    first, last = found[0][0], found[-1][0]
    names = [row for _, row, _ in found]
    counts = ", ".join(f"{row} {names.count(row)}" for row in (*ROWS, OTHER) if row in names)
    span = (
        f"on {first:%Y-%m-%d}" if first.date() == last.date() else f"from {first:%Y-%m-%d} to {last:%Y-%m-%d}"
    )
    rest = f"; {untimed} without a time that can be read are not drawn" if untimed else ""
    return f"{counted(len(found), 'entry', 'entries')} in the logbook of {read.name} {span}: {counts}{rest}."


def _ticks(first: datetime, last: datetime) -> tuple[tuple[float, str], ...]:
    """Round moments between the first entry and the last; where none is, the first entry's own."""
    span = (last - first).total_seconds()
    by_time = next((step for step in _STEPS if span / step < _MOST), None)
    if by_time is not None:
        midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
        start, step = midnight, timedelta(seconds=by_time)
        form = "%H:%M:%S" if by_time < 60 else "%H:%M"
        form = form if first.date() == last.date() else "%d %b %H:%M"
    else:
        days = next((step for step in _DAYS if span / (step * _DAY) < _MOST), _DAYS[-1])
        start, step = first.replace(hour=0, minute=0, second=0, microsecond=0), timedelta(days=days)
        form = "%Y-%m-%d"
    number = -((start - first) // step)
    at, made = start + max(number, 0) * step, []
    while at <= last:
        if at >= first:
            made.append(((at - first).total_seconds() / _DAY, f"{at:{form}}"))
        at += step
    return tuple(made) or ((0.0, f"{first:%Y-%m-%d %H:%M}"),)
