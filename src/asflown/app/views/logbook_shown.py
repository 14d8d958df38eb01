"""The logbook, a check of everything kept, and the end of a refit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from asflown.app.logbook import Verified
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.logbook import Entry
from asflown.core.refit import Refit


def logbook_sheet(book: str, entries: Sequence[Entry]) -> Sheet:
    """A logbook, oldest entry first."""
    rows = tuple((str(e.number), e.at, e.kind, said(e), e.who, short(e.hash)) for e in entries)
    label = "book" if book == "releases" else "aircraft"
    return Sheet(
        title="Logbook",
        head=((label, book),),
        sentence=f"{counted(len(entries), 'entry', 'entries')}, each chained to the one before.",
        tables=(
            Table(("no#", "when", "what", "which says", "who", "hash"), rows, empty="nothing is entered yet"),
        ),
        next_act=("check that nothing was changed: asflown verify",),
        foot=(f"last entry {short(entries[-1].hash)}",) if entries else (),
    )


def said(entry: Entry) -> str:
    """What an entry says, in one line."""
    return _SAYINGS.get(entry.kind, _any)(entry.body)


def _record(body: Mapping[str, Any]) -> str:
    release = body.get("release") or "release not stated"
    return f"{body.get('id')}: {body.get('settings')} settings {body.get('moment')}, {release}"


def _plan(body: Mapping[str, Any]) -> str:
    waiting = len(body.get("open") or ())
    text = f"{body.get('plan')}, {body.get('from') or 'not stated'} → {body.get('to')}, {waiting} groups open"
    if body.get("replaced") == "provisional" and body.get("plan") == "final":
        text += f"; {len(body.get('moved') or ())} lines moved since the provisional plan"
    return text


def _decision(body: Mapping[str, Any]) -> str:
    undone = body.get("undone")
    if isinstance(undone, Mapping):
        return f"taken back: {undone.get('group')}: {undone.get('option')}; {body.get('why')}"
    lines = len(body.get("lines") or ())
    return f"{body.get('group')}: {body.get('option')} ({lines} lines); {body.get('reason')}"


def _any(body: Mapping[str, Any]) -> str:
    """Any other entry: its short facts, as they stand."""
    facts = (
        f"{name} {value}"
        for name, value in body.items()
        if isinstance(value, str | int | float) and not isinstance(value, bool) and len(str(value)) <= 60
    )
    return ", ".join(facts)


def _not_now(body: Mapping[str, Any]) -> str:
    return f"stays on {body.get('stays_on') or 'the old release'}: {body.get('why')}"


def _correction(body: Mapping[str, Any]) -> str:
    more = body.get("counts") or body.get("is") or ", ".join(map(str, body.get("lines") or ()))
    says = f": {more}" if more else ""
    return f"{body.get('what')} of {body.get('record') or body.get('id') or 'a record'}{says}"


def _aircraft(body: Mapping[str, Any]) -> str:
    changed = ", ".join(body.get("changed") or ())
    return f"{body.get('what')}: {changed or body.get('id')}"


def _release(body: Mapping[str, Any]) -> str:
    return f"{body.get('what')}: {body.get('id')}"


def _received(body: Mapping[str, Any]) -> str:
    whole = "whole" if body.get("with_private") else f"{body.get('left_out')} things left out"
    last = str(body.get("last_hash"))[:12]
    return f"taken in with {body.get('entries')} entries, {whole}; the last one has hash {last}"


def _handed(body: Mapping[str, Any]) -> str:
    whole = "whole" if body.get("with_private") else f"{body.get('left_out')} things left out"
    return f"handed over, {whole}: {body.get('documents')} documents, {body.get('originals')} originals"


_SAYINGS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "record": _record,
    "plan": _plan,
    "decision": _decision,
    "not now": _not_now,
    "correction": _correction,
    "aircraft": _aircraft,
    "release": _release,
    "received": _received,
    "hand-over": _handed,
}


def logbook_json(book: str, entries: Sequence[Entry]) -> dict[str, Any]:
    """A logbook as JSON."""
    return {
        "book": book,
        "entries": [
            {
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
            for e in entries
        ],
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
    return Sheet(
        title="Not now",
        head=(("aircraft", refit.aircraft), ("refit", refit.id), ("date", at)),
        sentence=f"{refit.aircraft} stays on {refit.from_release or 'the release it has'}: {refit.not_now}.",
        next_act=(f"plan again when it suits: asflown plan {refit.aircraft} --to {refit.to_release}",),
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
