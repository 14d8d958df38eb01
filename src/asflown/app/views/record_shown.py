"""Record sheets: one that was taken, the list of them, two compared."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from asflown.app.compare import Compared
from asflown.app.take_record import Taken
from asflown.app.views.carry_json import finding_json
from asflown.app.views.carry_shown import finding_says
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.app.views.words import valued
from asflown.core.carry.notice import repeats
from asflown.core.differences import Difference
from asflown.core.listing import Listing
from asflown.core.logbook import Entry
from asflown.core.record import Extent, Moment, Record

NOT_STATED = "not stated"

EXTENT_SAYS = {
    Extent.FULL: "full: every setting",
    Extent.CHANGES_ONLY: "changes-only: those that differ from factory",
    Extent.UNKNOWN: "unknown: full or changes-only is not stated",
}


def taken_sheet(taken: Taken) -> Sheet:
    """A record that was just kept."""
    record = taken.record
    blocking = [finding for finding in taken.findings if finding.blocks]
    says = (
        f"{counted(len(record.settings), 'setting')} kept, {record.moment}"
        f" ({counted(len(record.unread), 'line')} not understood"
        f"{f', {len(record.unread) - len(record.open_lines)} set aside' if record.unread else ''})."
    )
    return Sheet(
        title=f"Record, {record.moment}",
        head=_head(record),
        sentence=says,
        tables=(learned_table(taken.listing),),
        warnings=tuple(finding_says(finding) for finding in blocking),
        notes=(
            f"extent: {EXTENT_SAYS[record.extent]} ({taken.extent_why}).",
            *(f"{remark}." for remark in record.remarks),
            *(finding_says(finding) for finding in taken.findings if not finding.blocks),
        ),
        next_act=_next(record, bool(blocking), blocking[0].ways_out[0] if blocking else ""),
        foot=_foot(record),
    )


def record_sheet(record: Record, lines: Sequence[str] = ()) -> Sheet:
    """A record that is kept: its facts and its settings."""
    rows = tuple(
        (str(setting.key), setting.value, setting.unit or "", str(setting.line or ""))
        for setting in record.settings
    )
    found = tuple(repeats(record))
    unread = tuple(
        f"line {u.line} not understood{f', {u.said}' if u.said else ''}: {u.text.strip()[:80]}"
        for u in record.unread
    )
    return Sheet(
        title=f"Record, {record.moment}",
        head=_head(record),
        sentence=f"{counted(len(record.settings), 'setting')}; {EXTENT_SAYS[record.extent]}.",
        tables=(Table(("setting", "value", "unit", "line#"), rows),),
        warnings=tuple(finding_says(finding) for finding in found if finding.blocks),
        notes=(
            *unread,
            *(finding_says(finding) for finding in found if not finding.blocks),
            *(f"{remark}." for remark in record.remarks),
            *lines,
        ),
        next_act=(f"compare it: asflown compare {record.id}",),
        foot=_foot(record),
    )


def learned_table(listing: Listing) -> Table:
    """What the reader learned of the listing's shape."""
    rows = tuple(
        (shape.pattern, str(shape.lines), shape.example.strip()[:60], shape.says) for shape in listing.shapes
    )
    return Table(("shape", "lines#", "example", "what was learned"), rows, empty="no line shape was needed")


def _head(record: Record) -> tuple[tuple[str, str], ...]:
    aircraft = record.aircraft if record.device == "board" else f"{record.aircraft}, {record.device}"
    return (
        ("aircraft", aircraft),
        ("sheet", record.id),
        ("date", record.taken),
        ("release", record.release or NOT_STATED),
        ("board", record.board or NOT_STATED),
    )


def _foot(record: Record) -> tuple[str, ...]:
    originals = tuple(f"{o.kind} {o.name} {short(o.sha256)}" for o in record.originals)
    return (f"record {record.id} {short(record.digest)}", *originals)


def _next(record: Record, is_blocked: bool, way_out: str) -> tuple[str, ...]:
    fitted = "" if record.device == "board" else f" --device {record.device}"
    plan = f"asflown plan {record.aircraft}{fitted} --to RELEASE"
    if record.moment is Moment.FACTORY:
        plan = f"plan again with it: asflown plan {record.aircraft}{fitted}"
    return (way_out, f"then: {plan}") if is_blocked else (plan,)


def taken_json(taken: Taken) -> dict[str, Any]:
    """A record that was just kept, as JSON."""
    return {
        **record_json(taken.record),
        "extent_why": taken.extent_why,
        "lossless": taken.listing.lossless,
        "encoding": taken.listing.encoding,
        "shapes": [
            {"pattern": s.pattern, "lines": s.lines, "example": s.example, "says": s.says}
            for s in taken.listing.shapes
        ],
        "findings": [finding_json(finding) for finding in taken.findings],
        "second_reading": None
        if taken.second is None
        else {"same": taken.second.same, "differs": [_difference_json(d) for d in taken.second.items]},
    }


def record_json(record: Record, *, settings: bool = True) -> dict[str, Any]:
    """A record as JSON."""
    body: dict[str, Any] = {
        "id": record.id,
        "aircraft": record.aircraft,
        "device": record.device,
        "moment": record.moment.value,
        "release": record.release,
        "board": record.board,
        "taken": record.taken,
        "extent": record.extent.value,
        "active_banks": dict(record.active_banks),
        "found": len(record.settings),
        "not_understood": [{"line": u.line, "text": u.text, "said": u.said} for u in record.unread],
        "originals": [
            {"name": o.name, "kind": o.kind, "size": o.size, "sha256": o.sha256} for o in record.originals
        ],
        "repeated": [
            {"key": again.key, "lines": list(again.lines), "values": list(again.values)}
            for again in record.repeated
        ],
        "repeated_said": record.repeated_said,
        "remarks": list(record.remarks),
        "digest": record.digest,
    }
    if settings:
        body["settings"] = [
            {
                "name": s.key.name,
                "bank": s.key.bank,
                "index": s.key.index,
                "value": s.value,
                "unit": s.unit,
                "line": s.line,
            }
            for s in record.settings
        ]
    return body


# --------------------------------------------------------------------------------- the list


def records_sheet(aircraft: str, entries: Sequence[Entry]) -> Sheet:
    """Every record of an aircraft, newest last."""
    rows = tuple(
        (
            str(e.body["id"]),
            str(e.body["moment"]),
            str(e.body["device"]),
            str(e.body["release"] or NOT_STATED),
            str(e.body["taken"]),
            str(e.body["extent"]),
            str(e.body["settings"]),
        )
        for e in entries
    )
    return Sheet(
        title="Records",
        head=(("aircraft", aircraft),),
        sentence=f"{counted(len(rows), 'record')} of {aircraft}.",
        tables=(
            Table(
                ("record", "moment", "device", "release", "taken", "extent", "settings#"),
                rows,
                empty="no record is kept yet",
            ),
        ),
        next_act=(f"keep one: asflown found LISTING --aircraft {aircraft}",),
    )


def records_json(aircraft: str, entries: Sequence[Entry]) -> dict[str, Any]:
    """Every record of an aircraft, as JSON."""
    return {"aircraft": aircraft, "records": [dict(entry.body) for entry in entries]}


# --------------------------------------------------------------------------------- two compared


def compared_sheet(compared: Compared) -> Sheet:
    """What differs between two records."""
    found = compared.differences
    a, b = compared.first, compared.second
    if found.is_same:
        says = f"The same: all {found.same} settings, at the precision the device stores."
    else:
        says = f"{counted(len(found.items), 'setting')} differ, {found.same} are the same."
        if len(found.items) == 1:
            says = f"1 setting differs, {found.same} are the same."
    rows = tuple(
        (
            str(d.key),
            _side(compared, d, first=True),
            _side(compared, d, first=False),
            str(d.kind),
            str(d.consequence),
        )
        for d in found.items
    )
    banks = tuple(
        f"active {word}: {x or NOT_STATED} in {a.id}, {y or NOT_STATED} in {b.id}."
        for word, x, y in found.banks
    )
    return Sheet(
        title="Two records compared",
        head=(
            ("first", f"{a.id}, {a.moment}, {a.taken}, {a.release or NOT_STATED}"),
            ("second", f"{b.id}, {b.moment}, {b.taken}, {b.release or NOT_STATED}"),
        ),
        sentence=says,
        tables=(
            Table(("setting", "first", "second", "how", "consequence"), rows, empty="no setting differs"),
        ),
        notes=(*banks, *(finding_says(finding) for finding in found.findings)),
        foot=(f"{a.id} {short(a.digest)}", f"{b.id} {short(b.digest)}"),
    )


def _side(compared: Compared, difference: Difference, *, first: bool) -> str:
    value = difference.first if first else difference.second
    implied = difference.first_implied if first else difference.second_implied
    if value is None:
        return "not shown" if implied else "–"
    text = valued(difference.key, value, compared.catalog)
    return f"{text} (factory, implied)" if implied else text


def compared_json(compared: Compared) -> dict[str, Any]:
    """What differs between two records, as JSON."""
    found = compared.differences
    return {
        "first": found.first,
        "second": found.second,
        "is_same": found.is_same,
        "same": found.same,
        "differs": [_difference_json(d) for d in found.items],
        "banks": [{"selector": w, "first": x, "second": y} for w, x, y in found.banks],
        "findings": [finding_json(finding) for finding in found.findings],
    }


def _difference_json(d: Difference) -> dict[str, Any]:
    return {
        "name": d.key.name,
        "bank": d.key.bank,
        "index": d.key.index,
        "how": d.kind.value,
        "first": d.first,
        "second": d.second,
        "first_implied": d.first_implied,
        "second_implied": d.second_implied,
        "consequence": d.consequence.value,
    }
