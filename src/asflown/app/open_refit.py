"""Open a refit or go on with the open one: which record, which job, which release."""

from __future__ import annotations

from dataclasses import dataclass, replace

from asflown.app import gates, kept
from asflown.app.question import captured
from asflown.app.workplace import Workplace
from asflown.core.plan import Purpose
from asflown.core.record import Moment, Original, Record
from asflown.core.refit import Gate, GateName, Refit, State
from asflown.errors import NeedsPerson, UsageError


@dataclass(frozen=True)
class Ask:
    """What a person asks to be planned.

    Attributes
    ----------
    to_release
        ``None``: the open refit's; for a new board or a sister copy the release there is.
    notes
        Change-note files, bytes and name.
    new_board
        Same aircraft, other board.
    like
        The proven aircraft whose set-up is copied onto this one.
    record
        A record other than the newest.
    """

    aircraft: str
    to_release: str | None = None
    device: str = "board"
    notes: tuple[tuple[bytes, str], ...] = ()
    new_board: str | None = None
    like: str | None = None
    record: str | None = None


def opened(work: Workplace, ask: Ask) -> Refit:
    """A new refit, not kept yet.

    Raises
    ------
    UsageError
        When there is no record to plan from, or no release to go to was said.
    """
    record = _found(work, ask)
    purpose = _purpose(ask)
    source = _source(work, ask.like) if ask.like else None
    to_release = ask.to_release or _default_release(purpose, record, source)
    number = len(kept.refits(work.store, ask.aircraft)) + 1
    refit = Refit(
        id=kept.refit_id(ask.aircraft, number),
        aircraft=ask.aircraft,
        device=ask.device,
        purpose=purpose,
        from_release=record.release,
        to_release=to_release,
        state=State.PLANNING,
        found=record.id,
        factory=captured(work.store, ask.aircraft, ask.device, to_release),
        source=source.id if source else None,
        to_board=ask.new_board,
    )
    return _with_second_reading(work, refit, record)


def continued(work: Workplace, ask: Ask, refit: Refit) -> Refit:
    """The open refit, taking in a newer record and a factory listing captured since."""
    _same_job(ask, refit)
    found = refit.found
    if ask.record is not None:
        found = _found(work, ask).id
    else:
        newer = kept.latest_record(
            work.store, refit.aircraft, device=refit.device, moments=(Moment.AS_FOUND,)
        )
        if newer is not None and newer.release == refit.from_release and refit.write_out is None:
            found = newer.id
    factory = captured(work.store, refit.aircraft, refit.device, refit.to_release)
    changed = replace(refit, found=found, factory=factory)
    return _with_second_reading(work, changed, kept.record(work.store, found))


def _same_job(ask: Ask, refit: Refit) -> None:
    says = []
    if ask.to_release is not None and ask.to_release != refit.to_release:
        says.append(f"it goes to {refit.to_release}, not to {ask.to_release}")
    if ask.new_board is not None and ask.new_board != refit.to_board:
        says.append(f"it is for board {refit.to_board or 'as fitted'}, not for {ask.new_board}")
    if ask.like is not None and refit.source is None:
        says.append(f"it is no copy of {ask.like}")
    if says:
        raise NeedsPerson(
            f"refit {refit.id} is open ({refit.state.value}): {'; '.join(says)}",
            next_step=f"end it first: asflown not-now {refit.aircraft} --why REASON; or go on with it:"
            f" asflown plan {refit.aircraft}",
        )


def _found(work: Workplace, ask: Ask) -> Record:
    if ask.record is not None:
        record = kept.record(work.store, ask.record)
        if (record.aircraft, record.device) != (ask.aircraft, ask.device):
            raise UsageError(
                f"record {record.id} is of {record.aircraft} ({record.device}), not of {ask.aircraft}"
                f" ({ask.device})",
                next_step=f"list its records: asflown records list {ask.aircraft}",
            )
        return record
    newest = kept.latest_record(work.store, ask.aircraft, device=ask.device)
    if newest is None:
        raise UsageError(
            f"there is no record of {ask.aircraft} ({ask.device}) to plan from",
            next_step=f"keep one first: asflown found LISTING --aircraft {ask.aircraft}",
        )
    return newest


def _source(work: Workplace, like: str) -> Record:
    """The record of the proven aircraft: as left where there is one, else as found."""
    kept.aircraft(work.store, like)
    record = kept.latest_record(work.store, like, moments=(Moment.AS_LEFT,))
    record = record or kept.latest_record(work.store, like)
    if record is None:
        raise UsageError(
            f"there is no record of {like} to copy from",
            next_step=f"keep one first: asflown found LISTING --aircraft {like}",
        )
    return record


def _purpose(ask: Ask) -> Purpose:
    if ask.like is not None and ask.new_board is not None:
        raise UsageError("--like and --new-board are two jobs", next_step="do one after the other")
    if ask.like == ask.aircraft:
        raise UsageError(f"{ask.like} cannot be copied onto itself", next_step="name two aircraft")
    if ask.like is not None:
        return Purpose.SISTER
    return Purpose.NEW_BOARD if ask.new_board is not None else Purpose.REFIT


def _default_release(purpose: Purpose, record: Record, source: Record | None) -> str:
    release = record.release
    if purpose is Purpose.SISTER and source is not None:
        release = record.release or source.release
    if purpose is Purpose.REFIT or release is None:
        raise UsageError("to which release?", next_step="name it: asflown plan --to RELEASE")
    return release


def _with_second_reading(work: Workplace, refit: Refit, record: Record) -> Refit:
    from asflown.app.take_record import second_reading_of

    if second_reading_of(record) is None or gates.is_passed(refit, GateName.SECOND_READING):
        return refit
    says = next((text for text in record.remarks if "second reading" in text), "a second reading was taken")
    answer = "passed" if "agrees" in says else "failed"
    gate = Gate(answer, f"{record.id}: {says}", record.taken, work.who)
    return gates.answered(refit, GateName.SECOND_READING, gate)


def with_originals(originals: tuple[Original, ...], more: list[Original]) -> tuple[Original, ...]:
    """Originals with more of them, each once."""
    known = {original.sha256 for original in originals}
    return (*originals, *(original for original in more if original.sha256 not in known))
