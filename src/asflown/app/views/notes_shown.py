"""Change notes drafted or looked through, as sheets and as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from asflown.app.matched import sure
from asflown.app.notes_against import Unnamed
from asflown.app.notes_check import Checked
from asflown.app.notes_draft import Draft
from asflown.app.views.match_json import catalog_json, confidence
from asflown.app.views.match_shown import word
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.catalog import NoteKind
from asflown.errors import Fault


def draft_sheet(draft: Draft, place: str, old: str, new: str) -> Sheet:
    """What was drafted into a file."""
    rows = tuple((kind.value, str(number)) for kind, number in _ordered(draft.kinds))
    check = f"asflown notes check {word(place)} --old {word(old)} --new {word(new)}"
    return Sheet(
        title="Change notes, drafted",
        head=(("file", place), ("release", f"{draft.from_release} → {draft.to_release}")),
        sentence=(
            f"{counted(sum(draft.kinds.values()), 'change')} drafted, {len(draft.to_check)} marked to check;"
            f" {counted(len(draft.retired), 'old name')} without a sure successor, as comments."
        ),
        tables=(Table(("kind", "changes#"), rows, empty="nothing changed that a note would tell"),),
        notes=("Proposals made from likeness: nobody has confirmed them. Read them before they are used.",),
        next_act=(f"read and correct it, then: {check}",),
        foot=("nothing is kept in the store",),
    )


def draft_json(draft: Draft, place: str | None) -> dict[str, Any]:
    """A draft as JSON (described in docs/reference/json.md)."""
    return {
        "from": draft.from_release,
        "to": draft.to_release,
        "complete": False,
        "place": place,
        "changes": {kind.value: number for kind, number in _ordered(draft.kinds)},
        "to_check": list(draft.to_check),
        "retired": list(draft.retired),
        "text": draft.data.decode(),
    }


def _ordered(kinds: Mapping[NoteKind, int]) -> list[tuple[NoteKind, int]]:
    return [(kind, kinds[kind]) for kind in NoteKind if kinds.get(kind)]


def checked_sheet(checked: Checked) -> Sheet:
    """What was found in change notes."""
    notes = checked.notes
    head = [("file", checked.name)]
    if notes is not None:
        head.append(("release", f"{notes.from_release} → {notes.to_release}"))
        head.append(("changes", f"{len(notes.changes)}{', said to be complete' if notes.complete else ''}"))
    catalogs = [given.name for given in (checked.old, checked.new) if given is not None]
    head.append(("beside", " and ".join(catalogs) or "no catalog: names and units are not looked at"))
    tables = []
    if checked.faults:
        tables.append(_table("! To correct", checked.faults))
    if checked.unnamed:
        rows = tuple((item.old, item.what, _likely(item)) for item in checked.unnamed)
        tables.append(Table(("old name", "what became of it", "likely"), rows, "No note speaks of"))
    if checked.remarks:
        tables.append(_table("Remarks", checked.remarks))
    return Sheet(
        title="Change notes, looked through",
        head=tuple(head),
        sentence=_sentence(checked),
        tables=tuple(tables),
        next_act=(_next(checked),),
        foot=("nothing is kept, nothing is changed",),
    )


def _likely(item: Unnamed) -> str:
    return f"{item.likely[0]} {sure(item.likely[1])}" if item.likely else ""


def _sentence(checked: Checked) -> str:
    if checked.notes is None:
        return f"It cannot be read: {counted(len(checked.faults), 'thing')} to correct."
    found = counted(len(checked.faults), "thing") if checked.faults else "Nothing"
    says = f"{found} to correct, {counted(len(checked.remarks), 'remark')}"
    if checked.unnamed:
        says += f"; of {counted(len(checked.unnamed), 'changed or missing old name')} no note speaks"
    return f"{says}."


def _table(title: str, faults: tuple[Fault, ...]) -> Table:
    rows = tuple((fault.where or "",) for fault in faults)
    return Table(("where",), rows, title, under=tuple((fault.what,) for fault in faults))


def _next(checked: Checked) -> str:
    if checked.faults:
        return "correct the lines, then look through it again"
    if checked.old is None or checked.new is None:
        return f"lay it beside the catalogs: asflown notes check {word(checked.name)} --old OLD --new NEW"
    return "keep it as notes.toml in the folder of the new release, then: asflown release add FOLDER"


def checked_json(checked: Checked) -> dict[str, Any]:
    """What was found, as JSON (described in docs/reference/json.md)."""
    notes = checked.notes
    return {
        "file": checked.name,
        "from": notes.from_release if notes else None,
        "to": notes.to_release if notes else None,
        "complete": notes.complete if notes else None,
        "changes": len(notes.changes) if notes else None,
        "is_fine": not checked.faults,
        "faults": _faults(checked.faults),
        "remarks": _faults(checked.remarks),
        "unnamed": [
            {"old": item.old, "what": item.what, "likely": _likely_json(item)} for item in checked.unnamed
        ],
        "old_catalog": catalog_json(checked.old) if checked.old else None,
        "new_catalog": catalog_json(checked.new) if checked.new else None,
    }


def _likely_json(item: Unnamed) -> dict[str, Any] | None:
    return {"new": item.likely[0], "confidence": confidence(item.likely[1])} if item.likely else None


def _faults(faults: tuple[Fault, ...]) -> list[dict[str, str | None]]:
    return [{"what": fault.what, "where": fault.where} for fault in faults]
