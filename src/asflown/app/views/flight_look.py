"""A log that was looked at, as a sheet and as JSON."""

from __future__ import annotations

from typing import Any

from asflown.app.flights.look import Look
from asflown.app.flights.settle import flags_of, quoted, statement_of
from asflown.app.views.flight_log import (
    conditions_json,
    conditions_note,
    log_foot,
    log_head,
    log_json,
    segments_json,
    segments_table,
    unused_note,
    uses_json,
    uses_table,
)
from asflown.app.views.flight_words import seconds
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.flight import TimeFault
from asflown.core.layout import Assignment, Doubt
from asflown.core.log_table import LogTable

#: Reasons shown of each column; the JSON has them all.
_REASONS = 2


def look_sheet(look: Look) -> Sheet:
    """What is in a log, how good it is, and what it can be used for."""
    opened = look.opened
    return Sheet(
        title="Flight log",
        head=log_head(opened),
        sentence=sentence(look),
        tables=(_columns(look), _time(look), *_flown(look)),
        warnings=tuple(doubt_says(doubt, opened.table) for doubt in opened.doubts)
        + ((f"no flight can be made of it: {look.why_no_flight}.",) if look.why_no_flight else ()),
        notes=_notes(look),
        next_act=_next(look),
        foot=log_foot(opened),
    )


def sentence(look: Look) -> str:
    """Where things stand."""
    table, layout = look.opened.table, look.opened.layout
    parts = [f"{table.rows:,} rows"]
    if look.timebase is not None and look.timebase.rate > 0:
        length = look.timebase.end - look.timebase.start
        parts = [f"{table.rows:,} rows in {seconds(length)} s at {look.timebase.rate:,.5g} a second"]
    parts.append(f"{len(layout.assignments)} of {counted(len(table.columns), 'column')} known as signals")
    open_ = len(layout.doubts)
    parts.append(f"{counted(open_, 'question')} open" if open_ else "no question open")
    return f"{'; '.join(parts)}."


def doubt_says(doubt: Doubt, table: LogTable) -> str:
    """A question with its choices and the words that settle it."""
    choices = f" ({' / '.join(doubt.choices)})" if doubt.choices else ""
    say = statement_of(doubt, 0, table) if doubt.choices else ""
    how = f"; say e.g. --assume {quoted(say)}" if say else ""
    return f"{doubt.question}{choices}{how}."


def columns_table(assignments: tuple[Assignment, ...]) -> Table:
    """Which column is which signal, and why."""
    rows = tuple(
        (a.signal, a.column, a.unit, f"{a.certainty:.2f}", "; ".join(a.reasons[:_REASONS]) or a.origin.value)
        for a in assignments
    )
    return Table(
        ("signal", "column", "unit", "sure#", "why"),
        rows,
        title="What the columns are",
        empty="no column is known as a signal",
    )


def _columns(look: Look) -> Table:
    return columns_table(look.opened.layout.assignments)


def time_faults(look: Look) -> tuple[TimeFault, ...]:
    """Everything wrong with the time stamps."""
    found = () if look.timebase is None else look.timebase.statements
    return (*(() if look.flight is None else look.flight.time_faults), *found)


def _time(look: Look) -> Table:
    rows = tuple((f.kind, f"{f.count:,}", seconds(f.at), f.statement) for f in time_faults(look))
    return Table(
        ("fault", "rows#", "first at s#", "what"),
        rows,
        title="Time stamps",
        empty="even, nothing missing" if look.timebase is not None else "no time is known",
    )


def _flown(look: Look) -> tuple[Table, ...]:
    if look.segments is None:
        return ()
    return segments_table(look.segments), uses_table(look.uses)


def _notes(look: Look) -> tuple[str, ...]:
    notes = [f"{fact.statement.rstrip('.')}." for fact in look.opened.table.facts]
    notes += [text for text in (unused_note(look.opened.layout),) if text]
    return (*notes, conditions_note(look.conditions.conditions))


def _next(look: Look) -> tuple[str, ...]:
    name = look.opened.name
    if look.opened.doubts:
        flags = " ".join(flags_of(look.opened)) or "SIGNAL=UNIT"
        return (
            f"settle what is open: asflown flight measure {name} --assume {flags}",
            f"take the likeliest everywhere: asflown flight measure {name} --accept-proposed",
        )
    if look.flight is None:
        return (f"say which column is the time: asflown flight look {name} --assume time=COLUMN",)
    return (f"measure it: asflown flight measure {name}",)


def look_json(look: Look) -> dict[str, Any]:
    """A log that was looked at (described in docs/reference/flight-json.md)."""
    return {
        "log": log_json(look.opened, look.timebase, time_faults(look)),
        "segments": segments_json(look.segments),
        "uses": uses_json(look.uses),
        "flight": None if look.flight is None else sorted(look.flight.traces),
        "why_no_flight": look.why_no_flight or None,
        "conditions": conditions_json(look.conditions.conditions, look.conditions),
    }
