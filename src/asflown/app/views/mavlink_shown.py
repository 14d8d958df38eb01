"""The sheet of writing over MAVLink, and what a reading over it could not carry."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from asflown.app.back import BackDone
from asflown.app.link.metadata import AddedOver
from asflown.app.link.over_mavlink import FoundOver, WrittenMav
from asflown.app.link.talk import Aircraft
from asflown.app.read_back import ReadBackDone
from asflown.app.views.read_back_shown import do_not_fly, read_back_json, tables
from asflown.app.views.record_shown import taken_json, taken_sheet
from asflown.app.views.release_shown import release_json, release_sheet
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.app.views.wayback_shown import back_done_json
from asflown.core.catalog import Catalog
from asflown.core.link.version import board, software
from asflown.core.refit import State

#: By number (RFC 5424).
_SEVERITY = ("emergency", "alert", "critical", "error", "warning", "notice", "information", "debug")


def found_over_sheet(found: FoundOver) -> Sheet:
    """The record's sheet, with the link and what it does not carry."""
    sheet = taken_sheet(found.taken)
    aircraft, lost = found.aircraft, found.parameters.lost
    rows = tuple((name, why) for name, why in lost.items())
    carried = Table(("parameter", "why"), rows, title="Not carried by MAVLink's float field", empty="none")
    link = f"system {aircraft.system}, MAV_TYPE {aircraft.heard.kind}, parameters {aircraft.encoding.value}"
    return replace(
        sheet,
        head=(*sheet.head, ("over MAVLink", link), ("says of itself", _itself(aircraft))),
        tables=(*sheet.tables, *((carried,) if lost else ()), *_texts(found)),
    )


def _itself(aircraft: Aircraft) -> str:
    told = aircraft.version
    uid = f"{told.uid:016X}" if told.uid else "not told"
    return f"software {software(told.software)}; board version {board(told.board)}; number {uid}"


def _texts(found: FoundOver) -> tuple[Table, ...]:
    if not found.texts:
        return ()
    rows = tuple((_SEVERITY[min(7, one.severity)], one.text) for one in found.texts)
    return (Table(("severity", "text"), rows, title="What the aircraft said meanwhile"),)


def found_over_json(found: FoundOver) -> dict[str, Any]:
    """The same as JSON."""
    aircraft = found.aircraft
    link = {
        "system": aircraft.system,
        "mav_type": aircraft.heard.kind,
        "encoding": aircraft.encoding.value,
        "capabilities": aircraft.version.capabilities,
        "software": software(aircraft.version.software),
        "board_version": aircraft.version.board,
        "uid": aircraft.version.uid,
        "texts": [{"severity": one.severity, "text": one.text} for one in found.texts],
        "not_carried": dict(found.parameters.lost),
    }
    return {**taken_json(found.taken), "link": link}


def described_sheet(made: AddedOver) -> Sheet:
    """The release's sheet, with the files it came from."""
    sheet = release_sheet(made.added.release, made.added.sha256)
    rows = tuple((one.path, str(len(one.data)), one.checked or "not stated") for one in made.files)
    table = Table(
        ("file on the aircraft", "bytes#", "checked by"),
        rows,
        title="Read from the aircraft, over MAVLink FTP",
    )
    return replace(sheet, tables=(*sheet.tables, table))


def described_json(made: AddedOver) -> dict[str, Any]:
    """The same as JSON."""
    files = [
        {"path": one.path, "bytes": len(one.data), "checked_by": one.checked or None} for one in made.files
    ]
    return {
        **release_json(made.added.release, made.added.sha256),
        "was_kept": made.added.was_kept,
        "from_aircraft": files,
    }


def written_mav_sheet(made: WrittenMav) -> Sheet:
    """What writing over MAVLink came to."""
    refit = made.job.refit
    missing = Table(
        ("parameter", "wanted", "why it is not so"),
        tuple((one.name, one.wanted, one.why) for one in made.not_taken),
        title="Not taken",
        empty="none",
    )
    return Sheet(
        title="Went back over MAVLink" if made.is_back else "Written over MAVLink",
        head=(
            ("aircraft", f"{made.job.aircraft.title} ({refit.aircraft})"),
            ("date", made.at),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("link", f"{made.address}, system {made.aircraft.system}, {made.aircraft.encoding.value}"),
        ),
        sentence=_sentence(made),
        warnings=tuple(_warnings(made)),
        tables=(missing, *tables(made.done.compared, _catalog(made), _wanted(made))),
        next_act=_next(made),
    )


def _wanted(made: WrittenMav) -> str:
    return "found" if made.is_back else "planned"


def _catalog(made: WrittenMav) -> Catalog | None:
    if not made.is_back:
        return made.job.new
    return made.job.old.catalog if made.job.old else None


def _sentence(made: WrittenMav) -> str:
    what = f"{counted(len(made.written), 'parameter')} set and acknowledged; {made.held} held theirs already"
    if made.is_as_planned:
        says = "every as-found setting is there again" if made.is_back else "as left = as planned"
        end = f"{says}, read twice"
    else:
        end = f"what was read back is not as {_wanted(made)}"
    return f"{what}; {end}."


def _warnings(made: WrittenMav) -> list[str]:
    says = list(do_not_fly(made.job.refit)) if made.job.refit.state is State.PARTLY_WRITTEN else []
    if not made.is_stored:
        says.append("the aircraft did not accept the command to store: what was set may be lost at a restart")
    if not made.is_restarted:
        says.append("the aircraft did not accept the command to restart: unplug it, plug it in, read it back")
    return says


def _next(made: WrittenMav) -> tuple[str, ...]:
    aircraft, back = made.job.refit.aircraft, " --back" if made.is_back else ""
    if made.is_as_planned:
        of = " of the old release" if made.is_back else ""
        return (f"the bench cards{of}, propellers off: asflown bench {aircraft}",)
    return (
        f"mend what is said, and go on: asflown write {aircraft}{back} --link {made.address}",
        f"go back: asflown back {aircraft}",
    )


def _done_json(done: ReadBackDone | BackDone) -> dict[str, Any]:
    return back_done_json(done) if isinstance(done, BackDone) else read_back_json(done)


def written_mav_json(made: WrittenMav) -> dict[str, Any]:
    """The same as JSON."""
    refit = made.job.refit
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "link": made.address,
        "as_planned": made.is_as_planned,
        "written": list(made.written),
        "held": made.held,
        "not_taken": [{"parameter": o.name, "wanted": o.wanted, "why": o.why} for o in made.not_taken],
        "stored": made.is_stored,
        "restarted": made.is_restarted,
        "back": made.is_back,
        "read_back": back_done_json(made.done)
        if isinstance(made.done, BackDone)
        else read_back_json(made.done),
        "next": list(_next(made)),
    }
