"""Layouts of logs, as sheets and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from asflown.app.flights.open_log import Opened
from asflown.app.views import flight_log
from asflown.app.views.flight_look import columns_table
from asflown.app.views.sheet import Sheet, Table, counted, listed
from asflown.core.layout import Layout

layout_json = flight_log.layout_json


def layouts_sheet(layouts: Sequence[Layout]) -> Sheet:
    """Every remembered layout."""
    rows = tuple(
        (
            layout.fingerprint,
            str(len(layout.assignments)),
            str(len(layout.unused)),
            listed((a.signal for a in layout.assignments), most=8),
        )
        for layout in layouts
    )
    return Sheet(
        title="Layouts of logs",
        head=(),
        sentence=f"{counted(len(rows), 'layout')} remembered, each by the fingerprint of its header.",
        tables=(
            Table(
                ("layout", "signals#", "not used#", "signals"),
                rows,
                empty="none yet; a layout is remembered once it is confirmed",
            ),
        ),
        next_act=("confirm one: asflown flight measure FILE",)
        if not rows
        else ("show one: asflown flight layout show FINGERPRINT",),
    )


def layouts_json(layouts: Sequence[Layout]) -> dict[str, Any]:
    """Every remembered layout, as JSON."""
    return {"layouts": [layout_json(layout) for layout in layouts]}


def layout_sheet(layout: Layout) -> Sheet:
    """One layout."""
    filtered = layout.rate_filter or "not stated"
    return Sheet(
        title="Layout of a log",
        head=(("layout", layout.fingerprint), ("filtering of the logged rates", filtered)),
        sentence=f"{counted(len(layout.assignments), 'column')} known as signals, as a person confirmed.",
        tables=(columns_table(layout.assignments),),
        notes=tuple(text for text in (flight_log.unused_note(layout),) if text),
        next_act=(f"write it to a file: asflown flight layout save {layout.fingerprint} layout.toml",),
        foot=(f"layout {layout.fingerprint}",),
    )


def saved_sheet(layout: Layout, place: str) -> Sheet:
    """A layout that was written to a file."""
    return Sheet(
        title="Layout of a log",
        head=(("layout", layout.fingerprint), ("file", place)),
        sentence=f"{counted(len(layout.assignments), 'column')} written to {place}.",
        next_act=(f"use it: asflown flight measure FILE --layout {place}",),
        foot=(f"layout {layout.fingerprint}",),
    )


def forgotten_sheet(layout: Layout) -> Sheet:
    """A layout that was forgotten."""
    return Sheet(
        title="Layout of a log",
        head=(("layout", layout.fingerprint),),
        sentence="Forgotten; logs with that header are asked about again.",
        foot=(f"layout {layout.fingerprint}",),
    )


def proposed_sheet(opened: Opened) -> Sheet:
    """A layout as it is shown to be confirmed."""
    layout = opened.layout
    return Sheet(
        title="Layout of a log",
        head=flight_log.log_head(opened),
        sentence=f"{counted(len(layout.assignments), 'column')} known as signals.",
        tables=(columns_table(layout.assignments),),
        notes=tuple(text for text in (flight_log.unused_note(layout),) if text),
        foot=flight_log.log_foot(opened),
    )
