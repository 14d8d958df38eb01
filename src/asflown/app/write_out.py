"""Write out: the listing to write and, at the same moment, the way back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain, islice
from pathlib import PurePath

from asflown.app import gates, kept, plans, state
from asflown.app.folder_text import readme
from asflown.app.in_shape import OwnShape, Written, shape_of, shapes_of, write_in_any
from asflown.app.needs import Store
from asflown.app.rehearse import go_back_listing
from asflown.app.rehearse import rehearse as rehearse
from asflown.app.seal import check_seal
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.core.carry.dispositions import Left
from asflown.core.carry.order import Ordered, Selection, out_of_order, selection, writing_order
from asflown.core.catalog import Catalog, Release
from asflown.core.plan import Plan
from asflown.core.record import Key
from asflown.core.refit import GateName, Refit, State, WriteOut
from asflown.core.wayback import WayBack, way_back
from asflown.errors import Fault, NeedsPerson, UsageError

#: Takes bytes by file name and says where it put them (a folder, whole or not at all).
Deliver = Callable[[Mapping[str, bytes]], str]

#: Names of the files in a written-out folder; the suffix of the person's own listing is kept.
README, WRITE, BACK, ORIGINAL = "README.txt", "to-write", "go-back", "as-found-original"


@dataclass(frozen=True)
class WrittenOut:
    """What was prepared, and where it was put.

    Attributes
    ----------
    chosen
        What is written, what is left out and why, how many stand at factory.
    files
        Bytes by file name, as delivered.
    place
        Where they were put; empty when they were only kept.
    """

    job: Job
    plan: Plan
    chosen: Selection
    ordered: Ordered
    way: WayBack
    files: Mapping[str, bytes]
    sheet: int
    at: str
    place: str = ""
    everything_why: str = ""
    remarks: tuple[str, ...] = ()


def write_out(
    work: Workplace, aircraft: str, deliver: Deliver | None = None, *, everything: bool | None = None
) -> WrittenOut:
    """Make the listing to write, the go-back listing and the untouched original, and keep all three.

    Parameters
    ----------
    deliver
        Puts the files where the person wants them; when it raises, nothing is kept.
    everything
        Write every planned setting, or only what differs from the new release's factory values;
        ``None``: only what differs when every factory value is stated, else everything.

    Raises
    ------
    Stale
        When an input of the plan moved.
    NeedsPerson
        When something is open or blocks, the plan is provisional, or the way back is incomplete.
    """
    job = state.open_job(work, aircraft)
    plan = check_seal(work.store, job.refit)
    check_ready(plan)
    way = way_back(job.found, job.old, job.aircraft, flash=job.refit.old_flash)
    check_way(way)
    refit = state.become(job.refit, State.WRITTEN_OUT)
    everything, why = _extent(plan, job.new, everything)
    chosen = selection(plan, job.new, everything)
    ordered = writing_order(chosen.write, job.new)
    to_write = write_for_new(work.store, job, ordered.items, job.new)
    back = go_back_listing(work.store, job.found, job.old, way)
    names = file_names(job)
    files = {
        README: readme(job, plan, way, names, everything=everything).encode(),
        names[WRITE]: to_write.data,
        names[BACK]: back.data,
        names[ORIGINAL]: work.store.original(job.found.originals[0].sha256),
    }
    refit = state.answer(work, refit, GateName.WAY_BACK, "passed", way_says(way, job))
    with work.store.transaction() as tx:
        sheet = tx.next_sheet(refit.aircraft)
        kept_out = WriteOut(
            listing=tx.keep(to_write.data, name=names[WRITE], kind="write-out"),
            back_listing=tx.keep(back.data, name=names[BACK], kind="go-back"),
            back_original=job.found.originals[0],
            everything=everything,
            plan_digest=plan.digest,
            inputs=plan.inputs,
            lines=tuple((line, str(key)) for line, key in to_write.lines),
        )
        job = state.put(tx, job, replace(refit, write_out=kept_out))
        document = plans.keep_written(tx, job.refit, plan)
        body = _entry(job.refit, kept_out, sheet, chosen)
        tx.log(refit.aircraft, "write-out", {**body, "plan_document": [document.id, document.sha256]})
        state.log_gate(tx, refit, GateName.WAY_BACK)
        place = deliver(files) if deliver else ""
    at = work.clock.now()
    remarks = (
        *_shape_says(to_write, "the listing to write"),
        *_shape_says(back, "the go-back listing"),
        *_order_says(to_write, job.new, job.refit.to_release),
        *_order_says(back, job.old.catalog if job.old else None, job.refit.from_release or "the old release"),
    )
    return WrittenOut(job, plan, chosen, ordered, way, files, sheet, at, place, why, remarks)


def written_again(work: Workplace, aircraft: str) -> WrittenOut:
    """What was written out for the open refit, from what was kept; nothing is made or entered.

    Raises
    ------
    NeedsPerson
        When nothing was written out, or the way back cannot be made any more.
    """
    job = state.open_job(work, aircraft)
    plan = state.written_plan(work.store, job.refit)
    made = job.refit.write_out
    assert made is not None
    way = way_back(job.found, job.old, job.aircraft, flash=job.refit.old_flash)
    chosen = selection(plan, job.new, made.everything)
    names = file_names(job)
    files = {
        README: readme(job, plan, way, names, everything=made.everything).encode(),
        names[WRITE]: work.store.original(made.listing.sha256),
        names[BACK]: work.store.original(made.back_listing.sha256),
        names[ORIGINAL]: work.store.original(made.back_original.sha256),
    }
    entry = next(
        (
            one
            for one in reversed(work.store.book(aircraft))
            if one.kind == "write-out" and one.body.get("refit") == job.refit.id
        ),
        None,
    )
    sheet = 0 if entry is None else int(entry.body.get("sheet", 0))
    at = work.clock.now() if entry is None else entry.at
    return WrittenOut(job, plan, chosen, writing_order(chosen.write, job.new), way, files, sheet, at)


def _shape_says(made: Written, what: str) -> Iterable[str]:
    """Where another listing had to lend its shape."""
    if made.shape.name != OwnShape.name:
        yield f"{what} has the shape of {made.shape.name}: the as-found listing shows no line of every kind"


def _order_says(made: Written, catalog: Catalog | None, release: str) -> Iterable[str]:
    """Where the shape's banks force a setting before one it needs."""
    for key, need in out_of_order([key for _, key in made.lines], catalog)[:6]:
        yield (
            f"{release}: {key} needs {need} first, but this listing's banks put it later; "
            f"write {key} again by hand, and look at it in the read-back"
        )


def check_ready(plan: Plan) -> None:
    """Refuse while a person is still needed.

    Raises
    ------
    NeedsPerson
        Naming everything that is open.
    """
    faults = [
        Fault(f"still to decide ({_settings(len(g.lines))}, {g.consequence})", g.id) for g in plan.open_groups
    ]
    faults += [Fault(finding.statement, finding.subject) for finding in plan.blocking]
    if plan.is_provisional:
        faults.append(Fault(f"the plan is provisional: {plan.provisional_why}"))
    if not faults:
        return
    step = f"settle it: asflown decide {plan.aircraft}"
    if not plan.open_groups and plan.is_provisional:
        step = (
            f"keep the new release's fresh factory listing (asflown found FILE --factory --release "
            f"{plan.to_release}), then make the final plan: asflown plan {plan.aircraft}"
        )
    elif not plan.open_groups:
        step = "; ".join(plan.blocking[0].ways_out) or f"look at the plan: asflown plan {plan.aircraft}"
    raise NeedsPerson("nothing is written yet", faults=tuple(faults), next_step=step)


def _settings(number: int) -> str:
    return "1 setting" if number == 1 else f"{number} settings"


def check_way(way: WayBack) -> None:
    """Refuse an incomplete way back, naming what is missing.

    Raises
    ------
    NeedsPerson
        With one fault for each missing thing.
    """
    if not way.complete:
        raise NeedsPerson(
            "the way back is incomplete, so nothing is written",
            faults=tuple(Fault(text, "missing") for text in way.missing),
            next_step="settle what is missing while the aircraft still has the old release",
        )


def units_of(catalog: Catalog | None, items: tuple[Left, ...]) -> dict[Key, str | None]:
    """Unit text by key, where the catalog states one."""
    if catalog is None:
        return {}
    return {
        item.key: parameter.unit
        for item in items
        if (parameter := catalog.by_name.get(item.key.name)) is not None
    }


def file_names(job: Job) -> dict[str, str]:
    """File names by what they hold, with the suffix of the person's own listing."""
    suffix = PurePath(job.found.originals[0].name).suffix or ".txt"
    old = job.refit.from_release or "old-release"
    return {
        WRITE: f"{WRITE}-{job.refit.to_release}{suffix}",
        BACK: f"{BACK}-{old}{suffix}",
        ORIGINAL: f"{ORIGINAL}{suffix}",
    }


def folder_name(work: Workplace, aircraft: str) -> str:
    """A name for the folder when the person gives none: refit and new release."""
    refit = state.open_job(work, aircraft).refit
    return f"{refit.id}-to-{refit.to_release}"


def way_says(way: WayBack, job: Job) -> str:
    """The way back in one sentence, for its gate."""
    text = f"{len(way.settings_to_write)} as-found settings, original {job.found.originals[0].sha256[:12]}"
    if way.not_stated:
        text += f"; not stated: {'; '.join(way.not_stated)}"
    return text


def _extent(plan: Plan, catalog: Catalog | None, said: bool | None) -> tuple[bool, str]:
    """Whether everything is written, and why."""
    unknown = sum(
        item.value is not None and item.factory is None and not (catalog and catalog.factory_value(item.key))
        for line in plan.lines
        for item in line.new
    )
    if said is not None:
        return said, "as asked"
    if unknown:
        return True, f"the new factory value of {unknown} settings is not stated"
    return False, "every new factory value is stated"


def _entry(refit: Refit, made: WriteOut, sheet: int, chosen: Selection) -> dict[str, object]:
    return {
        "refit": refit.id,
        "sheet": sheet,
        "plan": made.plan_digest,
        "inputs": [[item.name, item.sha256] for item in made.inputs],
        "everything": made.everything,
        "written": len(chosen.write),
        "at_factory": chosen.at_factory,
        "left_out": [[str(item.key), item.why] for item in chosen.left_out],
        "listing": made.listing.sha256,
        "go_back": made.back_listing.sha256,
        "original": made.back_original.sha256,
    }


# ------------------------------------------------------------------------------------ the way on


@dataclass(frozen=True)
class Rest:
    """What is still to write after writing stopped half-way.

    Attributes
    ----------
    sha256
        Of the kept listing; empty when nothing can be written.
    """

    data: bytes
    settings: int
    sha256: str
    name: str


def make_rest(store: Store, job: Job, items: tuple[Left, ...], catalog: Catalog | None) -> Written | None:
    """A listing with only what is still missing, in the shape of the person's own; ``None`` for nothing."""
    if not items:
        return None
    return write_for_new(store, job, writing_order(items, catalog).items, catalog)


def write_for_new(store: Store, job: Job, items: tuple[Left, ...], catalog: Catalog | None) -> Written:
    """Write settings in the person's own shape, or in that of a factory listing which shows more banks."""
    new = kept.release_with_document(store, job.refit.to_release)
    shapes = chain(shapes_of(store, job.found, job.old), _factory_shapes(store, job, new[0] if new else None))
    return write_in_any(shapes, items, units_of(catalog, items))


def _factory_shapes(store: Store, job: Job, new: Release | None) -> Iterator[OwnShape]:
    """Shapes of the new release's factory listings: the one captured from this board, then the stated one."""
    if job.refit.factory is not None:
        captured = shape_of(store, kept.record(store, job.refit.factory))
        yield replace(captured, name=f"the factory record {job.refit.factory}")
    yield from islice(shapes_of(store, job.found, new), 1, None)


def rest_of(work: Workplace, aircraft: str) -> Rest:
    """The listing with what is still missing, made by the last replies or read-back.

    Raises
    ------
    NeedsPerson
        When the refit is not partly written.
    UsageError
        When nothing is left that a listing could write.
    """
    job = state.open_job(work, aircraft)
    if job.refit.state is not State.PARTLY_WRITTEN:
        raise NeedsPerson(
            f"refit {job.refit.id} is {job.refit.state.value!r}: there is no rest to write",
            next_step=gates.next_act(job.refit),
        )
    for entry in reversed(work.store.book(job.refit.aircraft)):
        if entry.kind in ("replies", "read-back") and entry.body.get("refit") == job.refit.id:
            sha256 = entry.body.get("rest")
            if not sha256:
                break
            data = work.store.original(str(sha256))
            return Rest(data, int(entry.body.get("rest_settings", 0)), str(sha256), rest_name(job))
    raise UsageError(
        "nothing is left that a listing could write",
        next_step=f"erase and start again with the full listing, or go back: asflown back {aircraft}",
    )


def rest_name(job: Job) -> str:
    """File name of the listing with the rest."""
    suffix = PurePath(job.found.originals[0].name).suffix or ".txt"
    return f"rest-{job.refit.to_release}{suffix}"
