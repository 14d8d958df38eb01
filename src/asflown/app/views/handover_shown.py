"""What was handed over, and what was taken in."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from asflown.app.handover import HandedOver
from asflown.app.receive import Received
from asflown.app.views.sheet import Sheet, Table, counted, short


def handed_sheet(handed: HandedOver, place: str, at: str) -> Sheet:
    """A hand-over that was made."""
    size = sum(map(len, handed.files.values()))
    rows = (
        ("logbook entries", str(handed.entries)),
        ("documents", str(handed.documents)),
        ("originals", str(handed.originals)),
        ("files", str(len(handed.files))),
        ("bytes", str(size)),
        ("left out", str(len(handed.left_out))),
    )
    return Sheet(
        title="Hand-over",
        head=(("aircraft", handed.aircraft), ("date", at), ("put into", place)),
        sentence=f"{handed.aircraft} is in {place}: {counted(len(handed.files), 'file')},"
        f" {counted(len(handed.left_out), 'thing')} left out.",
        tables=(Table(("what", "number#"), rows),),
        notes=tuple(f"left out: {text}." for text in handed.left_out[:20])
        + ((f"and {len(handed.left_out) - 20} more.",) if len(handed.left_out) > 20 else ()),
        next_act=(f"take it in elsewhere: asflown receive {place}",),
    )


def handed_json(handed: HandedOver, place: str) -> dict[str, Any]:
    """A hand-over that was made, as JSON."""
    return {
        "aircraft": handed.aircraft,
        "place": place,
        "files": len(handed.files),
        "entries": handed.entries,
        "documents": handed.documents,
        "originals": handed.originals,
        "left_out": list(handed.left_out),
    }


def received_sheet(received: Received, at: str) -> Sheet:
    """A hand-over that was taken in."""
    rows = (
        ("logbook entries", str(received.entries)),
        ("documents", str(received.documents)),
        ("of these here already", str(received.were_there)),
        ("originals", str(received.originals)),
        ("left out at the hand-over", str(len(received.left_out))),
    )
    return Sheet(
        title="Received",
        head=(("aircraft", received.aircraft), ("date", at)),
        sentence=f"{received.aircraft} is taken in{_from(received)}; every file is what it was when it was"
        " handed over.",
        tables=(Table(("what", "number#"), rows),),
        notes=tuple(f"left out: {text}." for text in received.left_out[:20]),
        next_act=(f"look at it: asflown aircraft show {received.aircraft}",),
        foot=(f"last entry of its logbook {short(received.last_hash)}",),
    )


def _from(received: Received) -> str:
    return f", its logbook continued from entry {received.continued_from}" if received.continued_from else ""


def received_json(received: Received) -> dict[str, Any]:
    """A hand-over that was taken in, as JSON."""
    return {**asdict(received), "left_out": list(received.left_out)}
