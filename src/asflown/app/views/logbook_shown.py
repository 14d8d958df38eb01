"""The logbook, a check of everything kept, and the end of a refit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from asflown.app.logbook import Book, Verified
from asflown.app.views.entry_said import said
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.logbook import Entry
from asflown.core.plan import Purpose
from asflown.core.refit import Refit


def logbook_sheet(read: Book) -> Sheet:
    """A logbook, oldest entry first; entries that came with a hand-over stand apart, marked so."""
    entries = read.entries
    label = "book" if read.name == "releases" else "aircraft"
    tables = [_table(entries, "")]
    if read.received:
        tables.insert(0, _table(read.received, "Received with the hand-over"))
        tables[1] = _table(entries, "Kept here")
    apart = f" {_chain_says(read)}" if read.received else ""
    return Sheet(
        title="Logbook",
        head=((label, read.name),),
        sentence=f"{counted(len(entries), 'entry', 'entries')}, each chained to the one before.{apart}",
        tables=tuple(tables),
        next_act=("check that nothing was changed: asflown verify",),
        foot=(f"last entry {short(entries[-1].hash)}",) if entries else (),
    )


def _table(entries: Sequence[Entry], title: str) -> Table:
    rows = []
    day = ""
    for entry in entries:
        date, _, time = entry.at.partition("T")
        when = time[:5] if date == day else f"{date}\n{time[:5]}"
        day = date
        rows.append((str(entry.number), when, entry.kind, said(entry), entry.who, short(entry.hash)))
    columns = ("no#", "when", "what", "which says", "who", "hash")
    return Table(columns, tuple(rows), title=title, empty="nothing is entered yet")


def _chain_says(read: Book) -> str:
    """What was checked of the logbook that came, and what cannot be."""
    number = counted(len(read.received), "entry", "entries")
    came = f"{number} came with the hand-over, marked received"
    if read.chain_faults:
        return f"{came}; their chain does not hold: {'; '.join(read.chain_faults[:3])}."
    apart = read.not_hashed
    if not apart:
        return f"{came}; their chain was checked whole."
    if apart == len(read.received):
        return (
            f"{came}; each names the hash of the one before, but none could be hashed anew: they came without"
            " what is private."
        )
    return (
        f"{came}; each names the hash of the one before, and {len(read.received) - apart} were hashed anew;"
        f" {apart} came without what is private and cannot be."
    )


def logbook_json(read: Book) -> dict[str, Any]:
    """A logbook as JSON."""
    return {
        "book": read.name,
        "entries": [_entry_json(entry) for entry in read.entries],
        "received": [_entry_json(entry) for entry in read.received],
        "received_not_hashed": read.not_hashed,
        "received_faults": list(read.chain_faults),
    }


def _entry_json(e: Entry) -> dict[str, Any]:
    return {
        "number": e.number,
        "kind": e.kind,
        "version": e.version,
        "at": e.at,
        "who": e.who,
        "says": said(e),
        "body": e.body,
        "previous": e.previous,
        "hash": e.hash,
    }


# --------------------------------------------------------------------------------- verify


def verified_sheet(verified: Verified, at: str) -> Sheet:
    """What a check of everything kept found."""
    rows = [
        ("logbooks", str(verified.books), f"{counted(verified.entries, 'entry', 'entries')} in their chains"),
        ("documents", str(verified.documents), "every revision against its hash"),
        ("originals", str(verified.originals), "every byte against its hash"),
        ("ways back", str(len(verified.rehearsals)), "rebuilt and compared byte by byte"),
    ]
    failed = [r for r in verified.rehearsals if not r.holds]
    number = len(verified.faults) + len(failed)
    says = (
        "Everything kept is what it was."
        if verified.holds
        else f"Damaged: {counted(number, 'thing')} kept {'is' if number == 1 else 'are'} not what"
        f" {'it was' if number == 1 else 'they were'}."
    )
    loose = (
        f"{counted(verified.loose, 'file')} among the originals that nothing names: left by a process that"
        " was stopped while writing; no fault."
    )
    if verified.faults:
        says += " No way back was rehearsed."
    return Sheet(
        title="Verify",
        head=(("date", at),),
        sentence=says,
        tables=(Table(("what", "number#", "checked"), tuple(rows)),),
        warnings=(
            *(str(fault) for fault in verified.faults),
            *(f"way back of {r.refit}: {r.says}" for r in failed),
        ),
        notes=(
            *(f"way back of {r.refit}: {r.says}." for r in verified.rehearsals if r.holds),
            *([loose] if verified.loose else []),
        ),
        next_act=()
        if verified.holds
        else ("take the last hand-over folder of this aircraft: asflown receive PATH --store NEWFOLDER",),
    )


def verified_json(verified: Verified) -> dict[str, Any]:
    """What a check of everything kept found, as JSON."""
    return {
        "holds": verified.holds,
        "books": verified.books,
        "entries": verified.entries,
        "documents": verified.documents,
        "originals": verified.originals,
        "loose_files": verified.loose,
        "faults": [{"where": fault.where, "what": fault.what} for fault in verified.faults],
        "rehearsals": [{"refit": r.refit, "holds": r.holds, "says": r.says} for r in verified.rehearsals],
    }


# --------------------------------------------------------------------------------- not now


def closed_sheet(refit: Refit, at: str) -> Sheet:
    """The end of a refit that was put off."""
    again = f"asflown plan {refit.aircraft} --to {refit.to_release}"
    says = f"{refit.aircraft} stays on {refit.from_release or 'the release it has'}"
    if refit.purpose is Purpose.NEW_BOARD:
        again = f"asflown plan {refit.aircraft} --new-board {refit.to_board}"
        says = f"{refit.aircraft} is not set up on board {refit.to_board}"
    elif refit.purpose is Purpose.SISTER:
        again = f"asflown plan {refit.aircraft} --like AIRCRAFT"
        says = f"{refit.aircraft} keeps its own set-up"
    return Sheet(
        title="Not now",
        head=(("aircraft", refit.aircraft), ("refit", refit.id), ("date", at)),
        sentence=f"{says}: {refit.not_now}.",
        next_act=(f"plan again when it suits: {again}",),
    )


def closed_json(refit: Refit) -> dict[str, Any]:
    """The end of a refit, as JSON."""
    return {
        "refit": refit.id,
        "aircraft": refit.aircraft,
        "state": refit.state.value,
        "stays_on": refit.from_release,
        "not_to": refit.to_release,
        "why": refit.not_now,
    }
