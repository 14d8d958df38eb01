"""Read back: as left = as planned, or a list of differences by setting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from asflown.app import gates, kept, state
from asflown.app.in_shape import Written
from asflown.app.needs import Store
from asflown.app.state import Job
from asflown.app.take_record import Request, take_record
from asflown.app.workplace import Workplace
from asflown.app.write_out import make_rest, rest_name
from asflown.core.carry.readback import ReadBack, ReadKind, compare_as_left
from asflown.core.plan import Plan
from asflown.core.record import Extent, Moment, Original, Record
from asflown.core.refit import GateName, State
from asflown.errors import InputError, NeedsPerson


@dataclass(frozen=True)
class Reading:
    """A listing saved from the board after writing.

    Attributes
    ----------
    extent
        ``None``: judged from the listing and the catalog.
    shape
        ``None``: the shape pinned for the as-found record, if any.
    set_aside
        Lines a person says are no settings.
    """

    data: bytes
    name: str
    extent: Extent | None = None
    shape: str | None = None
    set_aside: str | None = None


@dataclass(frozen=True)
class ReadBackDone:
    """A read-back that was kept and compared.

    Attributes
    ----------
    rest
        The listing with what is still missing, where it differs and something can be written.
    remarks
        What should be known about the reading itself.
    """

    job: Job
    plan: Plan
    record: Record
    compared: ReadBack
    sheet: int
    at: str
    rest: Written | None = None
    rest_original: Original | None = None
    remarks: tuple[str, ...] = ()


def read_back(work: Workplace, aircraft: str, reading: Reading) -> ReadBackDone:
    """Keep a listing saved after writing as the as-left record, and compare it with the plan.

    The refit becomes *read back* when every setting is as planned, and *partly written: do not fly*
    when not.

    Raises
    ------
    NeedsPerson
        When nothing was written out, or the refit has ended.
    InputError
        When the listing cannot be read; nothing is kept.
    """
    job = state.open_job(work, aircraft)
    plan = state.written_plan(work.store, job.refit)
    if not gates.may_become(job.refit.state, State.PARTLY_WRITTEN):
        state.become(job.refit, State.READ_BACK)
    record = keep_reading(work, job, reading, job.refit.to_release)
    compared = compare_as_left(plan, record, job.new)
    rest, refused = _rest(work, job, compared)
    as_planned = compared.is_as_planned
    refit = state.become(job.refit, State.READ_BACK if as_planned else State.PARTLY_WRITTEN)
    says = gate_says(compared)
    refit = state.answer(work, refit, GateName.READ_BACK, "passed" if as_planned else "failed", says)
    with work.store.transaction() as tx:
        sheet = tx.next_sheet(refit.aircraft)
        kept_rest = tx.keep(rest.data, name=rest_name(job), kind="rest") if rest else None
        job = state.put(tx, job, replace(refit, as_left=record.id))
        body = {
            "refit": refit.id,
            "sheet": sheet,
            "plan": plan.digest,
            "of": "as left",
            **entry(record, compared),
            "state": refit.state.value,
            "rest": kept_rest.sha256 if kept_rest else None,
            "rest_settings": len(rest.lines) if rest else 0,
        }
        tx.log(refit.aircraft, "read-back", body)
        state.log_gate(tx, refit, GateName.READ_BACK)
    remarks = (*_remarks(job, record), *same_listing(work.store, record), *refused)
    return ReadBackDone(job, plan, record, compared, sheet, work.clock.now(), rest, kept_rest, remarks)


def keep_reading(work: Workplace, job: Job, reading: Reading, release: str | None) -> Record:
    """Keep a reading as an as-left record under a release."""
    return take_record(
        work,
        Request(
            data=reading.data,
            name=reading.name,
            aircraft=job.refit.aircraft,
            device=job.refit.device,
            moment=Moment.AS_LEFT,
            release=release,
            board=job.refit.to_board,
            extent=reading.extent,
            shape=reading.shape or job.found.shape,
            set_aside=reading.set_aside,
        ),
    ).record


def entry(record: Record, compared: ReadBack) -> dict[str, object]:
    """What the logbook keeps of a comparison: counts, and each difference by setting."""
    return {
        "record": record.id,
        "extent": compared.extent.value,
        "counts": {kind.value: number for kind, number in compared.counts.items()},
        "differs": [
            [str(item.key), item.kind.value, item.planned, item.read, item.consequence.value]
            for item in compared.differing
        ],
        "banks": [list(row) for row in compared.banks],
        "as_planned": compared.is_as_planned,
    }


def gate_says(compared: ReadBack) -> str:
    """A comparison in one sentence, for its gate."""
    counts = compared.counts
    text = f"{compared.record}: {counts[ReadKind.SAME]} settings as planned"
    if compared.differing:
        text += f", {len(compared.differing)} not ({', '.join(str(i.key) for i in compared.differing[:4])}"
        text += " …)" if len(compared.differing) > 4 else ")"
    if compared.banks:
        text += f", {len(compared.banks)} active banks differ"
    if counts[ReadKind.REDO]:
        text += f", {counts[ReadKind.REDO]} to be redone on the aircraft"
    return text


def _rest(work: Workplace, job: Job, compared: ReadBack) -> tuple[Written | None, Sequence[str]]:
    """The rest as a listing, or why there is none."""
    try:
        return make_rest(work.store, job, compared.still_to_write, job.new), ()
    except InputError as error:
        return None, (f"no listing with only the rest can be made: {error.what}",)


def _remarks(job: Job, record: Record) -> Sequence[str]:
    """What should be known about the reading; no line of a plan speaks of the active bank, so this does."""
    banks = tuple(
        f"another bank is active: {word} {bank} as found, {record.active_banks[word]} now"
        for word, bank in job.found.active_banks.items()
        if record.active_banks.get(word, bank) != bank
    )
    twice = tuple(
        f"{again.key} stands more than once in this listing ({', '.join(again.values)}); the last one was"
        " compared"
        for again in record.open_repeats[:8]
    )
    return (*banks, *twice, *_same_file(job, record))


def same_listing(store: Store, record: Record) -> Sequence[str]:
    """Records of other aircraft that were read from the very same bytes: the wrong file is easily taken."""
    same = [id for id in kept.records_of_listing(store, record.originals[0].sha256) if id != record.id]
    others = [id for id in same if kept.record(store, id).aircraft != record.aircraft]
    if not others:
        return ()
    return (
        f"this file is byte for byte the listing of {others[0]}, another aircraft's record: was it saved from"
        f" {record.aircraft}?",
    )


def _same_file(job: Job, record: Record) -> Sequence[str]:
    made = job.refit.write_out
    if made is not None and record.originals[0].sha256 == made.listing.sha256:
        return ("this file is byte for byte the listing that was written out: was it saved from the board?",)
    if made is not None and record.originals[0].sha256 == made.back_original.sha256:
        return ("this file is byte for byte the as-found listing: is it the right one?",)
    return ()


def need_written(job: Job) -> None:
    """Refuse while nothing was written out.

    Raises
    ------
    NeedsPerson
        With the next act.
    """
    if job.refit.write_out is None:
        raise NeedsPerson(
            f"nothing was written out for refit {job.refit.id} ({job.refit.state.value})",
            next_step=gates.next_act(job.refit),
        )
