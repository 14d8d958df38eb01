"""The writing sheet: what was prepared, and the steps that lead through writing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asflown.app import gates
from asflown.app.views.carry_json import finding_json
from asflown.app.views.carry_shown import finding_says
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.app.views.words import valued
from asflown.app.write_out import Rest, WrittenOut
from asflown.core.carry.dispositions import Left
from asflown.core.refit import GateName

#: How many settings a sheet shows before the rest is folded.
MOST = 40


def written_sheet(made: WrittenOut) -> Sheet:
    """The writing sheet."""
    kept = made.job.refit.write_out
    assert kept is not None
    rows = tuple(_row(place, item, made) for place, item in enumerate(made.ordered.items[:MOST], 1))
    more = len(made.ordered.items) - MOST
    folded = (f"folded: {more} more settings, all in the file to write",) if more > 0 else ()
    left_out = Table(
        ("not written", "why"),
        tuple((str(item.key), item.why) for item in made.chosen.left_out),
        title="Left out",
        empty="nothing",
    )
    return Sheet(
        title="Writing sheet",
        head=_head(made),
        sentence=sentence(made),
        warnings=tuple(_warnings(made)),
        tables=(
            Table(
                ("no.#", "setting", "to be left", "factory"),
                rows,
                title="To write, in this order",
                folded=folded,
            ),
            *((left_out,) if made.chosen.left_out else ()),
            _back_table(made),
        ),
        notes=tuple(_notes(made)),
        next_act=(
            "before loading: look once more whether the baseline log is usable, then"
            " asflown gate before-loading passed --why TEXT",
            "follow README.txt; save what the terminal prints: asflown replies TRANSCRIPT",
            "after storing and restarting, save a new listing: asflown readback LISTING",
        ),
        foot=(
            f"plan {short(made.plan.digest)}",
            f"to write {short(kept.listing.sha256)}",
            f"go-back {short(kept.back_listing.sha256)}",
        ),
    )


def sentence(made: WrittenOut) -> str:
    """What was prepared, in one sentence made from the rows."""
    what = counted(len(made.ordered.items), "setting")
    parts = [f"{what} to write"]
    if made.chosen.at_factory:
        parts.append(f"{made.chosen.at_factory} stand at the new factory value and are not written")
    if made.chosen.left_out:
        parts.append(f"{len(made.chosen.left_out)} left out")
    where = f" In {made.place}." if made.place else ""
    return f"{'; '.join(parts)}; the way back is complete: {len(made.way.settings_to_write)} settings.{where}"


def _head(made: WrittenOut) -> tuple[tuple[str, str], ...]:
    refit = made.job.refit
    return (
        ("aircraft", refit.aircraft if refit.device == "board" else f"{refit.aircraft}, {refit.device}"),
        ("sheet", f"{made.sheet:03d}"),
        ("date", made.at),
        ("release", f"{made.plan.from_release or 'not stated'} → {made.plan.to_release}"),
        ("refit", f"{refit.id}, {refit.state.value}"),
    )


def _row(place: int, item: Left, made: WrittenOut) -> tuple[str, ...]:
    catalog = made.job.new
    factory = (
        item.factory if item.factory is not None else (catalog.factory_value(item.key) if catalog else None)
    )
    return (
        str(place),
        str(item.key),
        valued(item.key, item.value or "", catalog),
        "not stated" if factory is None else valued(item.key, factory, catalog),
    )


def _back_table(made: WrittenOut) -> Table:
    rows = tuple((item.subject, item.why, str(item.consequence)) for item in made.way.cannot_restore)
    return Table(
        ("not restored by a listing", "what to know", "consequence"), rows, title="What cannot be restored"
    )


def _warnings(made: WrittenOut) -> Iterable[str]:
    yield "propellers off and pack unplugged before the board is touched"
    gate = made.job.refit.gates.get(GateName.BASELINE_FLIGHT.value)
    if gate is None:
        yield (
            "baseline flight: not stated. It cannot be flown after loading; without it the verdict is"
            " 'not enough evidence'"
        )
    elif gate.answer != "passed":
        yield f"baseline flight: {gate.answer} ({gate.statement})"
    for text in made.way.not_stated:
        yield f"not stated: {text}"
    for finding in made.ordered.findings:
        yield finding_says(finding)
    yield from made.remarks


def _notes(made: WrittenOut) -> Iterable[str]:
    kept = made.job.refit.write_out
    everything = kept is not None and kept.everything
    how = "Every planned setting is written" if everything else "Only what differs from factory is written"
    yield f"{how}: {made.everything_why}."
    for text in made.way.says:
        yield text[:1].upper() + text[1:] + "."


def written_json(made: WrittenOut) -> dict[str, Any]:
    """What was prepared, as JSON."""
    kept = made.job.refit.write_out
    assert kept is not None
    return {
        "aircraft": made.job.refit.aircraft,
        "refit": made.job.refit.id,
        "state": made.job.refit.state.value,
        "sheet": made.sheet,
        "place": made.place,
        "files": sorted(made.files),
        "everything": kept.everything,
        "everything_why": made.everything_why,
        "write": [
            {
                "name": i.key.name,
                "bank": i.key.bank,
                "index": i.key.index,
                "value": i.value,
                "factory": i.factory,
            }
            for i in made.ordered.items
        ],
        "lines": [{"line": line, "setting": key} for line, key in kept.lines],
        "at_factory": made.chosen.at_factory,
        "left_out": [{"setting": str(i.key), "why": i.why} for i in made.chosen.left_out],
        "way_back": {
            "complete": made.way.complete,
            "settings": len(made.way.settings_to_write),
            "cannot_restore": [
                {"subject": i.subject, "why": i.why, "consequence": i.consequence.value}
                for i in made.way.cannot_restore
            ],
            "not_stated": list(made.way.not_stated),
            "says": list(made.way.says),
        },
        "findings": [finding_json(finding) for finding in made.ordered.findings],
        "remarks": list(made.remarks),
        "listing": kept.listing.sha256,
        "go_back": kept.back_listing.sha256,
        "original": kept.back_original.sha256,
        "plan": made.plan.digest,
        "next": gates.next_act(made.job.refit),
    }


def rest_sheet(rest: Rest, aircraft: str, place: str, at: str) -> Sheet:
    """The listing with what is still to write."""
    return Sheet(
        title="The rest to write",
        head=(("aircraft", aircraft), ("date", at), ("file", place)),
        sentence=f"{counted(rest.settings, 'setting')} still to write; partly written: do not fly.",
        warnings=(
            "propellers off and pack unplugged before the board is touched",
            "if the board restarted without storing, what was written is lost: start again at the erase",
        ),
        next_act=("send it, store, restart, save a new listing: asflown readback LISTING",),
        foot=(f"rest {short(rest.sha256)}",),
    )


def rest_json(rest: Rest, aircraft: str, place: str) -> dict[str, Any]:
    """The listing with what is still to write, as JSON."""
    return {"aircraft": aircraft, "place": place, "settings": rest.settings, "sha256": rest.sha256}
