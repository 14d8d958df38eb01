"""Go back: the listing and the steps, the proof by read-back, and a rehearsal from what is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from asflown.app import gates, state
from asflown.app.folder_text import go_back_text
from asflown.app.in_shape import Written
from asflown.app.read_back import Reading, entry, keep_reading, same_listing
from asflown.app.rehearse import go_back_listing
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.app.write_out import (
    BACK,
    ORIGINAL,
    README,
    Deliver,
    check_way,
    file_names,
    make_rest,
    rest_name,
    way_says,
)
from asflown.core.carry.readback import ReadBack, compare_reading
from asflown.core.record import Original, Record
from asflown.core.refit import GateName, Refit, State
from asflown.core.wayback import WayBack, wanted_back, way_back
from asflown.errors import InputError, NeedsPerson


@dataclass(frozen=True)
class BackReady:
    """The way back, ready to go.

    Attributes
    ----------
    listing
        The clean go-back listing.
    was_kept
        Whether it was made at the write-out and kept; otherwise it was made now.
    place
        Where the files were put; empty when only shown.
    """

    job: Job
    way: WayBack
    listing: bytes
    files: Mapping[str, bytes]
    was_kept: bool
    at: str
    place: str = ""


@dataclass(frozen=True)
class BackDone:
    """A read-back after going back.

    Attributes
    ----------
    is_back
        Whether every as-found setting is there again.
    """

    job: Job
    record: Record
    compared: ReadBack
    is_back: bool
    sheet: int
    at: str
    rest: Written | None = None
    rest_original: Original | None = None
    remarks: tuple[str, ...] = ()


def prepare_back(work: Workplace, aircraft: str, deliver: Deliver | None = None) -> BackReady:
    """Give out the way back: the go-back listing, the untouched original and the steps in order.

    Possible in every state of a refit but after it went back: also before anything was written out,
    when the new image is already on the board, and after a sign-off.

    Raises
    ------
    NeedsPerson
        When the way back is incomplete, or the refit has ended otherwise.
    """
    ready = _ready(work, going_back(work, aircraft))
    job = ready.job
    if not ready.was_kept and not gates.is_passed(job.refit, GateName.WAY_BACK):
        job = _keep_way(work, job, ready.listing, file_names(job)[BACK], ready.way)
    return replace(ready, job=job, place=deliver(ready.files) if deliver else "")


def _ready(work: Workplace, job: Job) -> BackReady:
    way = way_back(job.found, job.old, job.aircraft, flash=job.refit.old_flash)
    made = job.refit.write_out
    if made is not None:
        data = work.store.original(made.back_listing.sha256)
    else:
        check_way(way)
        data = go_back_listing(work.store, job.found, job.old, way).data
    names = file_names(job)
    original = work.store.original(job.found.originals[0].sha256)
    text = go_back_text(job, way, names)
    files = {README: text.encode(), names[BACK]: data, names[ORIGINAL]: original}
    flash = job.refit.old_flash
    if flash is not None:
        files[flash.name] = work.store.original(flash.sha256)
    return BackReady(job, way, data, files, made is not None, work.clock.now())


def shown_back(work: Workplace, aircraft: str) -> BackReady:
    """The same to look at: nothing is kept or entered.

    Raises
    ------
    NeedsPerson
        As :func:`prepare_back` does.
    """
    return _ready(work, going_back(work, aircraft))


def prove_back(work: Workplace, aircraft: str, reading: Reading) -> BackDone:
    """Compare a listing saved after going back with the as-found record, setting by setting.

    When every setting is there again the refit ends as *went back* and the aircraft has its old
    release; otherwise the list says what is not.

    Raises
    ------
    NeedsPerson
        When there is nothing to go back from.
    """
    job = going_back(work, aircraft)
    catalog = job.old.catalog if job.old else None
    record = keep_reading(work, job, reading, job.found.release)
    compared = compare_reading(
        wanted_back(job.found, catalog), record, catalog, active_banks=job.found.active_banks
    )
    is_back = compared.is_as_planned
    rest, refused = (None, ()) if is_back else _rest(work, job, compared)
    remarks = (*same_listing(work.store, record), *refused)
    refit = _moved(job.refit, is_back)
    with work.store.transaction() as tx:
        sheet = tx.next_sheet(refit.aircraft)
        kept_rest = tx.keep(rest.data, name=rest_name(job), kind="rest") if rest else None
        was = job.refit.state
        job = state.put(tx, job, refit)
        body = {
            "refit": refit.id,
            "sheet": sheet,
            "of": "as found",
            "was": was.value,
            **entry(record, compared),
        }
        if is_back:
            tx.log(refit.aircraft, "went back", body)
            if refit.device == "board":
                why = f"went back on sheet {sheet:03d}"
                board = job.found.board or job.aircraft.board
                state.put_aircraft(work, tx, job, release=job.found.release, board=board, why=why)
        else:
            more = {
                "state": refit.state.value,
                "rest": kept_rest.sha256 if kept_rest else None,
                "rest_settings": len(rest.lines) if rest else 0,
            }
            tx.log(refit.aircraft, "read-back", {**body, **more})
    return BackDone(job, record, compared, is_back, sheet, work.clock.now(), rest, kept_rest, remarks)


def going_back(work: Workplace, aircraft: str) -> Job:
    """The refit to go back from.

    Raises
    ------
    NeedsPerson
        When it has ended otherwise, or there was none.
    """
    job = state.last_job(work, aircraft)
    if job.refit.state in (State.WENT_BACK, State.NOT_NOW):
        raise NeedsPerson(
            f"refit {job.refit.id} has ended ({job.refit.state.value}): there is nothing to go back from",
            next_step=f"see what was kept: asflown logbook {aircraft}",
        )
    return job


def _keep_way(work: Workplace, job: Job, data: bytes, name: str, way: WayBack) -> Job:
    """Keep a way back that was asked for before anything was written out."""
    refit = state.answer(work, job.refit, GateName.WAY_BACK, "passed", way_says(way, job))
    with work.store.transaction() as tx:
        tx.keep(data, name=name, kind="go-back")
        job = state.put(tx, job, refit)
        state.log_gate(tx, refit, GateName.WAY_BACK)
    return job


def _moved(refit: Refit, is_back: bool) -> Refit:
    """Where the refit stands after the comparison; a signed one that is not back yet stays signed."""
    if is_back:
        return state.become(refit, State.WENT_BACK)
    if gates.may_become(refit.state, State.PARTLY_WRITTEN):
        return state.become(refit, State.PARTLY_WRITTEN)
    return refit


def _rest(work: Workplace, job: Job, compared: ReadBack) -> tuple[Written | None, tuple[str, ...]]:
    catalog = job.old.catalog if job.old else None
    try:
        return make_rest(work.store, job, compared.still_to_write, catalog), ()
    except InputError as error:
        return None, (f"no listing with only the rest can be made: {error.what}",)
