"""Whether a remembered layout still fits the data of a log."""

from __future__ import annotations

from dataclasses import replace

from asflown.core.columns.propose import propose
from asflown.core.layout import Doubt, Layout, Origin, fingerprint
from asflown.core.log_table import LogTable


def check(layout: Layout, table: LogTable) -> tuple[Doubt, ...]:
    """What speaks against reading a log through a layout; empty where nothing does."""
    names = {column.name for column in table.columns}
    return tuple(
        Doubt(
            line.column, f"the layout reads '{line.column}' as {line.signal}; this log has no such column", ()
        )
        for line in layout.assignments
        if line.column not in names and not line.column.startswith("(")
    )


def merge(remembered: Layout, table: LogTable) -> Layout:
    """A remembered layout for this log: as remembered where its columns are there, the rest proposed.

    Doubts about the remembered lines (:func:`check`) are added; it counts as confirmed only without any and
    when the header is the same.
    """
    doubts = check(remembered, table)
    names = {column.name for column in table.columns}
    kept = tuple(
        replace(line, origin=Origin.REMEMBERED)
        for line in remembered.assignments
        if line.column in names or line.column.startswith("(")
    )
    mark = fingerprint(table.header)
    if mark == remembered.fingerprint and len(kept) == len(remembered.assignments):
        return replace(
            remembered, assignments=kept, doubts=doubts, is_confirmed=remembered.is_confirmed and not doubts
        )
    fresh = propose(table)
    taken = {line.signal for line in kept} | {line.column for line in kept}
    added = tuple(x for x in fresh.assignments if x.signal not in taken and x.column not in taken)
    lines = kept + added
    used = {line.column for line in lines}
    return Layout(
        mark,
        lines,
        tuple(column.name for column in table.columns if column.name not in used),
        doubts + fresh.doubts,
        False,
        remembered.rate_filter,
    )
