"""The read-back sheet: as left against as planned, or after going back against as found."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from asflown.app import gates
from asflown.app.read_back import ReadBackDone
from asflown.app.views.carry_json import finding_json
from asflown.app.views.carry_shown import finding_says
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.app.views.words import valued
from asflown.core.carry.readback import ReadBack, ReadItem, ReadKind
from asflown.core.catalog import Catalog
from asflown.core.refit import Refit


def read_back_sheet(done: ReadBackDone, place: str = "") -> Sheet:
    """The sheet of a read-back.

    Parameters
    ----------
    place
        Where the listing with the rest was put, where it was.
    """
    compared = done.compared
    return Sheet(
        title="Read-back",
        head=_head(done.job.refit, done.sheet, done.at, done.record.id, compared),
        sentence=compared_sentence(compared, "planned", done.job.refit),
        warnings=() if compared.is_as_planned else tuple(do_not_fly(done.job.refit)),
        tables=tuple(tables(compared, done.job.new, "planned")),
        notes=(*done.remarks, *(finding_says(finding) for finding in compared.findings)),
        next_act=tuple(_next(done, place)),
        foot=(f"record {short(done.record.digest)}", f"plan {short(done.plan.digest)}"),
    )


def compared_sentence(compared: ReadBack, wanted: str, refit: Refit) -> str:
    """Where things stand, made from the rows."""
    counts = compared.counts
    same = counted(counts[ReadKind.SAME], "setting")
    parts = [f"{same} as {wanted}"]
    for kind in (ReadKind.DIFFERS, ReadKind.MISSING, ReadKind.NOT_PLANNED, ReadKind.NOT_STATED):
        if counts[kind]:
            parts.append(f"{counts[kind]} {_word(kind, wanted, counts[kind])}")
    if compared.banks:
        parts.append(counted(len(compared.banks), "active bank") + " not the wanted one")
    if counts[ReadKind.REDO]:
        parts.append(f"{counts[ReadKind.REDO]} to be redone on the aircraft")
    if counts[ReadKind.DEVICE]:
        parts.append(f"{counts[ReadKind.DEVICE]} made by the device")
    return f"{'; '.join(parts)}. Refit {refit.id}: {refit.state.value}."


def _word(kind: ReadKind, wanted: str, number: int) -> str:
    if kind is ReadKind.NOT_PLANNED:
        return f"not {wanted}, not at factory"
    return {
        ReadKind.DIFFERS: "differs" if number == 1 else "differ",
        ReadKind.MISSING: "missing",
        ReadKind.NOT_STATED: "not stated",
    }.get(kind, kind.value)


def _head(refit: Refit, sheet: int, at: str, record: str, compared: ReadBack) -> tuple[tuple[str, str], ...]:
    return (
        ("aircraft", refit.aircraft if refit.device == "board" else f"{refit.aircraft}, {refit.device}"),
        ("sheet", f"{sheet:03d}"),
        ("date", at),
        ("release", f"{refit.from_release or 'not stated'} → {refit.to_release}"),
        ("refit", f"{refit.id}, {refit.state.value}"),
        ("record", f"{record}, {compared.extent.value}"),
    )


def do_not_fly(refit: Refit) -> Iterable[str]:
    """What must be said while an aircraft is partly written."""
    yield (
        f"{refit.aircraft} is partly written: do not fly. Propellers off and pack unplugged until it is read"
        " back as planned, or went back"
    )


def tables(compared: ReadBack, catalog: Catalog | None, wanted: str) -> Iterable[Table]:
    """Differences by setting, banks, and what must be redone."""
    if compared.differing:
        rows = tuple(_row(item, catalog) for item in compared.differing)
        yield Table(("setting", wanted, "read", "how", "consequence", "why"), rows, title="Not as " + wanted)
    if compared.banks:
        yield Table(
            ("selector", wanted, "read"),
            tuple((word, a or "–", b or "not shown") for word, a, b in compared.banks),
            title="Another bank is active",
        )
    if compared.redo:
        yield Table(
            ("setting", "read now", "how"),
            tuple((str(item.key), item.read or "not shown", item.why) for item in compared.redo),
            title="To be done again on the aircraft",
        )


def _row(item: ReadItem, catalog: Catalog | None) -> tuple[str, ...]:
    read = "not shown" if item.read is None else valued(item.key, item.read, catalog)
    if item.implied:
        read += " (factory, implied)"
    return (
        str(item.key),
        "–" if item.planned is None else valued(item.key, item.planned, catalog),
        read,
        item.kind.value,
        str(item.consequence),
        item.why,
    )


def _next(done: ReadBackDone, place: str) -> Sequence[str]:
    refit = done.job.refit
    if done.compared.is_as_planned:
        return (
            f"the bench cards, propellers off: asflown cards {refit.aircraft} --print",
            f"then sign: asflown sign {refit.aircraft} --name NAME --role ROLE",
        )
    return tuple(ways_on(refit, len(done.rest.lines) if done.rest else 0, place))


def ways_on(refit: Refit, rest: int, place: str) -> Iterable[str]:
    """The ways out of a partly written aircraft: the rest, the whole again, or back."""
    if rest:
        where = f"send {place}" if place else "take the file: asflown write-out --rest FILE, send it"
        what = counted(rest, "setting")
        yield f"write the rest ({what}): {where}, store, restart, asflown readback LISTING"
    yield (
        "erase and start again: erase the stored settings, write the whole listing of the writing sheet,"
        " store, restart, asflown readback LISTING"
    )
    yield f"go back: asflown back {refit.aircraft}"


def read_back_json(done: ReadBackDone, place: str = "") -> dict[str, Any]:
    """A read-back as JSON."""
    refit = done.job.refit
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "sheet": done.sheet,
        "record": done.record.id,
        "as_planned": done.compared.is_as_planned,
        **compared_json(done.compared),
        "rest": rest_json(done.rest_original.sha256 if done.rest_original else None, done.rest, place),
        "remarks": list(done.remarks),
        "plan": done.plan.digest,
        "next": list(_next(done, place)) if not done.compared.is_as_planned else [gates.next_act(refit)],
    }


def rest_json(sha256: str | None, rest: Any, place: str) -> dict[str, Any] | None:
    """The listing with the rest, as JSON."""
    return None if rest is None else {"settings": len(rest.lines), "sha256": sha256, "place": place}


def compared_json(compared: ReadBack) -> dict[str, Any]:
    """A comparison as JSON."""
    return {
        "extent": compared.extent.value,
        "counts": {kind.value: number for kind, number in compared.counts.items()},
        "differs": [item_json(item) for item in compared.differing],
        "banks": [{"selector": w, "wanted": a, "read": b} for w, a, b in compared.banks],
        "redo": [item_json(item) for item in compared.redo],
        "findings": [finding_json(finding) for finding in compared.findings],
    }


def item_json(item: ReadItem) -> dict[str, Any]:
    """One setting of a comparison."""
    return {
        "name": item.key.name,
        "bank": item.key.bank,
        "index": item.key.index,
        "how": item.kind.value,
        "planned": item.planned,
        "read": item.read,
        "implied": item.implied,
        "factory": item.factory,
        "consequence": item.consequence.value,
        "why": item.why,
    }
