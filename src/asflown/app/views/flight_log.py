"""The log behind a flight: what both sheets and both JSONs say of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from asflown.app.flights.conditions import WORDS, StatedConditions
from asflown.app.flights.open_log import KnownBy, Opened
from asflown.app.flights.settle import statement_of
from asflown.app.views.flight_words import bytes_shown
from asflown.app.views.sheet import Table, counted, listed, short
from asflown.core.flight import Conditions, TimeFault
from asflown.core.layout import Doubt, Layout
from asflown.core.log_table import LogTable
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.core.fitness import Use
    from asflown.core.segments import Segments
    from asflown.core.signal.stamps import TimeBase

_KNOWN = {
    KnownBy.FILE: "from the layout file",
    KnownBy.REMEMBERED: "as a person confirmed it before",
    KnownBy.PROPOSED: "proposed from names and data",
}
_GRADES = {"usable": "yes", "partly": "partly", "not": "no"}
_CONFIRMED = {True: "confirmed", False: "not confirmed"}


def layout_says(opened: Opened) -> str:
    """Where the layout comes from, in words."""
    how = _KNOWN[opened.known_by]
    if opened.known_by is KnownBy.REMEMBERED and opened.is_confirmed:
        return how
    return f"{how}, {_CONFIRMED[opened.is_confirmed]}"


def log_head(opened: Opened) -> tuple[tuple[str, str], ...]:
    """The head block of a sheet about a log."""
    table = opened.table
    return (
        ("log", f"{opened.name} ({bytes_shown(opened.size)}, {table.shape})"),
        ("columns", layout_says(opened)),
    )


def log_foot(opened: Opened) -> tuple[str, ...]:
    """What identifies the log."""
    return (f"log SHA-256 {short(opened.table.sha256)}", f"layout {opened.layout.fingerprint}")


def log_json(opened: Opened, timebase: TimeBase | None, faults: Sequence[TimeFault]) -> dict[str, Any]:
    """The log as JSON."""
    table = opened.table
    return {
        "name": opened.name,
        "sha256": table.sha256 or None,
        "size": opened.size,
        "shape": table.shape,
        "rows": table.rows,
        "columns": len(table.columns),
        "thinned": table.thinned,
        "rate": None if timebase is None else timebase.rate,
        "seconds": None if timebase is None else timebase.end - timebase.start,
        "jitter": None if timebase is None else timebase.jitter,
        "dropped": None if timebase is None else timebase.dropped,
        "gaps": None if timebase is None else timebase.gap_count,
        "faults": [fault_json(fault) for fault in faults],
        "facts": [{"kind": f.kind, "statement": f.statement, "count": f.count} for f in table.facts],
        "layout": {"known_by": opened.known_by.value, **layout_json(opened.layout, table)},
    }


def fault_json(fault: TimeFault) -> dict[str, Any]:
    """Something wrong with the time stamps."""
    return {"kind": fault.kind, "count": fault.count, "at": fault.at, "statement": fault.statement}


def layout_json(layout: Layout, table: LogTable | None = None) -> dict[str, Any]:
    """A layout as JSON."""
    return {
        "fingerprint": layout.fingerprint,
        "confirmed": layout.is_confirmed,
        "rate_filter": layout.rate_filter,
        "assignments": [
            {
                "column": a.column,
                "signal": a.signal,
                "unit": a.unit,
                "factor": a.factor,
                "offset": a.offset,
                "origin": a.origin.value,
                "certainty": a.certainty,
                "reasons": list(a.reasons),
            }
            for a in layout.assignments
        ],
        "unused": list(layout.unused),
        "doubts": [doubt_json(doubt, table) for doubt in layout.doubts],
    }


def doubt_json(doubt: Doubt, table: LogTable | None) -> dict[str, Any]:
    """A question the proposal could not settle, with what ``--assume`` takes for each choice."""
    statements = (statement_of(doubt, i, table) for i in range(len(doubt.choices))) if table else ()
    return {
        "subject": doubt.subject,
        "question": doubt.question,
        "choices": list(doubt.choices),
        "why": doubt.why or None,
        "statements": [statement or None for statement in statements],
    }


def conditions_json(conditions: Conditions, origins: StatedConditions | None = None) -> dict[str, Any]:
    """What was stated of the conditions, and what was not."""
    made: dict[str, Any] = {name: getattr(conditions, name) for name, _, _ in WORDS.values()}
    return {
        **made,
        "origins": {} if origins is None else dict(origins.origins),
        "not_stated": list(conditions.not_stated),
    }


def conditions_note(conditions: Conditions) -> str:
    """One sentence about what confounds a comparison and was not stated."""
    missing = [word for word, (name, _, _) in WORDS.items() if name in conditions.not_stated]
    if not missing:
        return "Every condition that confounds a comparison is stated."
    return (
        f"Conditions not stated: {listed(missing, most=9)}; a later comparison cannot tell their effect"
        " from the release's."
    )


def segments_json(found: Segments | None) -> list[dict[str, Any]]:
    """What was flown when."""
    return [
        {
            "kind": one.kind.value,
            "axis": one.axis,
            "start": one.span.start,
            "end": one.span.end,
            "reason": one.reason,
        }
        for one in (() if found is None else found.found)
    ]


def segments_table(found: Segments) -> Table:
    """How long of each kind was flown."""
    from asflown.core.segments import Kind

    rows = []
    for kind in Kind:
        for axis in (None, *AXES) if kind is Kind.MANOEUVRE else (None,):
            mine = [one for one in found.of(kind) if one.axis == axis]
            if mine:
                total = sum(one.span.length for one in mine)
                what = f"{kind}, {axis}" if axis else str(kind)
                rows.append((what, str(len(mine)), f"{total:.1f}", mine[0].reason))
    return Table(
        ("what", "times#", "s#", "why, of the first"),
        tuple(rows),
        title="What was flown",
        empty="nothing that could be told apart",
    )


def uses_json(uses: Sequence[Use]) -> list[dict[str, Any]]:
    """What the log is fit for."""
    return [
        {
            "family": use.family.value,
            "grade": use.grade.value,
            "reasons": list(use.reasons),
            "next": list(use.next_time),
        }
        for use in uses
    ]


def uses_table(uses: Sequence[Use]) -> Table:
    """What the log can and cannot be used for, and what to log or fly next time."""
    rows = tuple(
        (use.family.value, _GRADES[use.grade.value], "; ".join(use.reasons), "; ".join(use.next_time))
        for use in uses
    )
    return Table(("for", "usable", "why", "next time"), rows, title="What it can be used for")


def unused_note(layout: Layout) -> str:
    """The columns that are no signal."""
    if not layout.unused:
        return ""
    return f"{counted(len(layout.unused), 'column')} not used: {listed(layout.unused, most=12)}."
