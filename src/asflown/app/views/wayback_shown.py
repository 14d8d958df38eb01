"""The go-back sheets: the steps in order, and the proof."""

from __future__ import annotations

from typing import Any

from asflown.app.back import BackDone, BackReady
from asflown.app.views.carry_shown import finding_says
from asflown.app.views.read_back_shown import compared_json, compared_sentence, do_not_fly, rest_json, tables
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.refit import State
from asflown.core.wayback import STEPS, STEPS_BY_LOAD


def back_sheet(ready: BackReady) -> Sheet:
    """The steps of going back, in the one right order."""
    refit, found = ready.job.refit, ready.job.found
    place = f" In {ready.place}." if ready.place else ""
    what = counted(len(ready.way.settings_to_write), "setting")
    made = "made at the write-out" if ready.was_kept else "made now"
    return Sheet(
        title="Go back",
        head=(
            ("aircraft", f"{ready.job.aircraft.title} ({refit.aircraft})"),
            ("date", ready.at),
            ("back to", found.release or "not stated"),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("as found", f"{found.id}, taken {found.taken}"),
        ),
        sentence=f"The go-back listing holds {what}, {made}.{place}",
        warnings=(
            "propellers off, pack unplugged, before anything else",
            *(f"not stated: {text}" for text in ready.way.not_stated),
            *(f"missing: {text}" for text in ready.way.missing),
        ),
        tables=(
            Table(
                ("no.#", "step"),
                tuple((str(n), step) for n, step in enumerate(_steps_of(ready), 1)),
                title="In this order",
            ),
            Table(
                ("not restored by a listing", "what to know", "consequence"),
                tuple((i.subject, i.why, str(i.consequence)) for i in ready.way.cannot_restore),
                title="What cannot be restored",
            ),
        ),
        notes=tuple(text[:1].upper() + text[1:] + "." for text in ready.way.says),
        next_act=_next(ready),
        foot=(f"record {short(found.digest)}",),
    )


def _steps_of(ready: BackReady) -> tuple[str, ...]:
    refit = ready.job.refit
    if refit.old_flash is None:
        return STEPS
    return tuple(step.replace("AIRCRAFT", refit.aircraft) for step in STEPS_BY_LOAD)


def _next(ready: BackReady) -> tuple[str, ...]:
    prove = f"after the steps: asflown back {ready.job.refit.aircraft} --readback LISTING"
    if ready.place:
        return (prove,)
    return (f"take the files: asflown back {ready.job.refit.aircraft} --out FOLDER", prove)


def back_json(ready: BackReady) -> dict[str, Any]:
    """The way back as JSON."""
    refit = ready.job.refit
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "back_to": ready.job.found.release,
        "record": ready.job.found.id,
        "complete": ready.way.complete,
        "settings": len(ready.way.settings_to_write),
        "steps": list(_steps_of(ready)),
        "cannot_restore": [
            {"subject": i.subject, "why": i.why, "consequence": i.consequence.value}
            for i in ready.way.cannot_restore
        ],
        "not_stated": list(ready.way.not_stated),
        "missing": list(ready.way.missing),
        "place": ready.place,
        "files": sorted(ready.files),
        "listing": ready.listing.decode("utf-8", "replace"),
    }


def back_done_sheet(done: BackDone, place: str = "") -> Sheet:
    """The proof: every as-found setting is there again, or which is not."""
    refit = done.job.refit
    catalog = done.job.old.catalog if done.job.old else None
    return Sheet(
        title="Went back" if done.is_back else "Read-back after going back",
        head=(
            ("aircraft", f"{done.job.aircraft.title} ({refit.aircraft})"),
            ("sheet", f"{done.sheet:03d}"),
            ("date", done.at),
            ("release", done.job.found.release or "not stated"),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("as found", f"{done.job.found.id}, taken {done.job.found.taken}"),
            ("read", f"{done.record.id}, {done.compared.extent.value}"),
        ),
        sentence=compared_sentence(done.compared, "found", refit),
        warnings=_warnings(done),
        tables=tuple(tables(done.compared, catalog, "found")),
        notes=(*done.remarks, *(finding_says(finding) for finding in done.compared.findings)),
        next_act=_next_done(done, place),
        foot=(f"as found {short(done.job.found.digest)}", f"read {short(done.record.digest)}"),
    )


def _warnings(done: BackDone) -> tuple[str, ...]:
    if done.is_back:
        return ()
    if done.job.refit.state is State.PARTLY_WRITTEN:
        return tuple(do_not_fly(done.job.refit))
    return (
        f"{done.job.refit.aircraft} is not as found: do not fly it before it is read back as it should be",
    )


def _next_done(done: BackDone, place: str) -> tuple[str, ...]:
    aircraft = done.job.refit.aircraft
    if done.is_back:
        return (
            "the bench cards of the old release before the next flight, propellers off",
            f"asflown logbook {aircraft}",
        )
    acts = []
    if done.rest is not None:
        where = (
            f"send {place}"
            if place
            else "write the settings above by hand, or take the rest with --rest FILE"
        )
        acts.append(f"{where}, store, restart, asflown back {aircraft} --readback LISTING")
    acts.append("erase and send the whole go-back listing again, in the order of the go-back sheet")
    return tuple(acts)


def back_done_json(done: BackDone, place: str = "") -> dict[str, Any]:
    """The proof as JSON."""
    refit = done.job.refit
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "sheet": done.sheet,
        "record": done.record.id,
        "as_found": done.job.found.id,
        "is_back": done.is_back,
        **compared_json(done.compared),
        "rest": rest_json(done.rest_original.sha256 if done.rest_original else None, done.rest, place),
        "remarks": list(done.remarks),
        "next": list(_next_done(done, place)),
    }
