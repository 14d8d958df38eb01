"""Plan a refit: open or continue it, make the carry-over, seal and keep it; or stay (not now)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from asflown.app import gates, kept
from asflown.app.question import Gathered, captured, gather, read_notes
from asflown.app.workplace import Workplace
from asflown.core.carry.carry import carry_over
from asflown.core.carry.dispositions import Line
from asflown.core.carry.settle import settle
from asflown.core.catalog import Catalog, Consequence
from asflown.core.finding import Finding
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Moment, Original, Record
from asflown.core.refit import Gate, GateName, Refit, State
from asflown.errors import NeedsPerson, UsageError
from asflown.formats import documents


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


@dataclass(frozen=True, slots=True)
class MovedLine:
    """One line that reads otherwise in a new plan than in the one before."""

    name: str
    was: str
    now: str


@dataclass(frozen=True)
class Made:
    """A plan with what it was made from.

    Attributes
    ----------
    sheet
        The sheet number it is kept under.
    was_kept
        Whether this call kept a new plan; ``False`` when nothing had moved.
    moved
        What moved from the plan before (of the provisional plan, when the first final one is made).
    """

    plan: Plan
    refit: Refit
    record: Record
    old: Catalog | None
    new: Catalog | None
    sheet: int
    at: str
    was_kept: bool
    moved: tuple[MovedLine, ...] = ()
    replaced_provisional: bool = False


def make_plan(work: Workplace, ask: Ask) -> Made:
    """Make the plan for an aircraft and keep it; continues the open refit.

    Raises
    ------
    UsageError
        When the aircraft, its record or the release to go to is not known.
    NeedsPerson
        When another refit is open, or the refit stands where it may not be planned anew.
    """
    aircraft = kept.aircraft(work.store, ask.aircraft)
    before = kept.open_refit(work.store, aircraft.id, device=ask.device)
    refit = _opened(work, ask) if before is None else _continued(work, ask, before.refit)
    if ask.notes:
        for data, name in ask.notes:
            read_notes(data, name)  # a file that cannot be read is refused before anything is kept
        with work.store.transaction() as tx:
            given = [tx.keep(data, name=name, kind="notes") for data, name in ask.notes]
        refit = replace(refit, notes=_with(refit.notes, given))
    work.store.remember(kept.CURRENT, aircraft.id)
    return keep_plan(work, refit, before.revision if before else 0)


def keep_plan(work: Workplace, refit: Refit, revision: int, entries: tuple[Pending, ...] = ()) -> Made:
    """Make a refit's plan and keep it with the refit, unless nothing moved.

    Parameters
    ----------
    revision
        The refit's revision last seen, 0 for a new one.
    entries
        Logbook entries that belong to the same act (a decision).
    """
    gathered = gather(work.store, refit)
    plan = planned(gathered, refit)
    before = kept.plan(work.store, refit)
    standing = replace(_with_digest(refit, plan), state=_state(refit, plan))
    question = gathered.question
    catalogs = (question.old.catalog if question.old else None), question.new.catalog
    if before is not None and before.digest == plan.digest and not entries:
        sheet, at = _kept_under(work, refit, plan.digest)
        return Made(plan, refit, question.record, *catalogs, sheet, at, was_kept=False)
    moved = moved_lines(before, plan) if before is not None else ()
    replaces = before is not None and before.is_provisional and not plan.is_provisional
    with work.store.transaction() as tx:
        for entry in entries:
            tx.log(refit.aircraft, entry.kind, entry.body)
        sheet = tx.next_sheet(refit.aircraft)
        tx.put("refit", refit.id, documents.dump(standing), expect=revision)
        id = kept.plan_id(refit, provisional=plan.is_provisional)
        document = tx.put("plan", id, documents.dump(plan))
        body = {**_entry(plan, refit, sheet, before, moved), "id": id, "sha256": document.sha256}
        tx.log(refit.aircraft, "plan", body)
    return Made(
        plan,
        standing,
        question.record,
        *catalogs,
        sheet,
        work.clock.now(),
        was_kept=True,
        moved=moved,
        replaced_provisional=replaces,
    )


@dataclass(frozen=True)
class Pending:
    """A logbook entry to be written with the plan."""

    kind: str
    body: Mapping[str, object] = field(default_factory=dict)


def planned(gathered: Gathered, refit: Refit) -> Plan:
    """The sealed plan with the refit's decisions applied; pure but for what was gathered."""
    base = carry_over(gathered.question)
    findings = base.findings
    if gathered.path_says is not None and not _same_release(gathered):
        findings = (*findings, _no_path(gathered.path_says, refit))
    plan = settle(replace(base, findings=findings, aircraft=refit.aircraft), refit.decisions)
    return replace(plan, inputs=gathered.inputs)


def not_now(work: Workplace, aircraft: str, why: str, *, nothing_loaded: bool = False) -> Refit:
    """Stay on the old release, with the reason: a proper end of a refit.

    Parameters
    ----------
    nothing_loaded
        The person says that nothing was loaded, though a listing was written out.

    Raises
    ------
    NeedsPerson
        When a listing was written out and nobody said that nothing was loaded.
    """
    if not why.strip():
        raise UsageError("say why not now", next_step="add --why REASON")
    found = kept.needed_refit(work.store, aircraft)
    refit = found.refit
    if refit.state is State.WRITTEN_OUT and not nothing_loaded:
        raise NeedsPerson(
            f"a listing of {refit.id} was written out; if any of it was loaded, the aircraft must go back",
            next_step="nothing loaded: asflown not-now --why … --nothing-loaded; loaded: asflown back",
        )
    closed = replace(gates.moved(refit, State.NOT_NOW), not_now=why.strip())
    with work.store.transaction() as tx:
        tx.put("refit", refit.id, documents.dump(closed), expect=found.revision)
        tx.log(
            refit.aircraft,
            "not now",
            {
                "refit": refit.id,
                "stays_on": refit.from_release,
                "not_to": refit.to_release,
                "why": why.strip(),
                "open": _still_open(work, refit),
            },
        )
    return closed


def _still_open(work: Workplace, refit: Refit) -> int:
    plan = kept.plan(work.store, refit)
    return len(plan.open_groups) if plan else 0


# --------------------------------------------------------------------------------- the refit


def _opened(work: Workplace, ask: Ask) -> Refit:
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


def _continued(work: Workplace, ask: Ask, refit: Refit) -> Refit:
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


def _with(originals: tuple[Original, ...], more: list[Original]) -> tuple[Original, ...]:
    known = {original.sha256 for original in originals}
    return (*originals, *(original for original in more if original.sha256 not in known))


# --------------------------------------------------------------------------------- the plan


def _with_digest(refit: Refit, plan: Plan) -> Refit:
    if plan.is_provisional:
        return replace(refit, provisional_digest=plan.digest, final_digest=None)
    return replace(refit, final_digest=plan.digest)


def _state(refit: Refit, plan: Plan) -> State:
    ready = not plan.is_provisional and not plan.open_groups and not plan.blocking
    wanted = State.DECIDED if ready else State.PLANNING
    unmoved = plan.digest in (refit.final_digest, refit.provisional_digest)
    if unmoved and refit.state not in (State.PLANNING, State.DECIDED):
        return refit.state
    return gates.moved(refit, wanted).state


def _same_release(gathered: Gathered) -> bool:
    return gathered.question.record.release == gathered.question.new.id


def _no_path(says: str, refit: Refit) -> Finding:
    return Finding(
        "carry-over",
        refit.to_release,
        Consequence.UNKNOWN,
        f"{says}: names that differ are matched by likeness, and what matters is left to decide",
        (
            "give the change notes: asflown plan --notes FILE",
            "bring in the releases between: asflown release add FOLDER",
        ),
    )


def moved_lines(before: Plan, after: Plan) -> tuple[MovedLine, ...]:
    """What reads otherwise in the later plan, line by line."""
    was = {line.id: line for line in before.lines}
    now = {line.id: line for line in after.lines}
    return tuple(
        MovedLine(_name(line), _says(was.get(id)), _says(now.get(id)))
        for id, line in {**was, **now}.items()
        if _says(was.get(id)) != _says(now.get(id))
    )


def _name(line: Line) -> str:
    return ", ".join(str(item.key) for item in (line.old or line.new)) or line.id


def _says(line: Line | None) -> str:
    if line is None:
        return "not in the plan"
    values = ", ".join(
        f"{item.key} = {item.value if item.value is not None else 'made on the aircraft'}"
        for item in line.new
    )
    return f"{line.disposition}: {values}" if values else str(line.disposition)


def _entry(
    plan: Plan, refit: Refit, sheet: int, before: Plan | None, moved: tuple[MovedLine, ...]
) -> dict[str, object]:
    account = plan.account
    body: dict[str, object] = {
        "refit": refit.id,
        "sheet": sheet,
        "plan": "provisional" if plan.is_provisional else "final",
        "purpose": plan.purpose.value,
        "from": plan.from_release,
        "to": plan.to_release,
        "digest": plan.digest,
        "inputs": [[item.name, item.sha256] for item in plan.inputs],
        "account": {
            "found": account.found,
            "kept": account.kept,
            "converted": account.converted,
            "gone": account.gone,
            "redo": account.redo,
            "to_decide": account.to_decide,
            "new": account.new,
            "new_to_decide": account.new_to_decide,
        },
        "open": [group.id for group in plan.open_groups],
        "lapsed": list(plan.lapsed),
    }
    if before is not None:
        body["replaces"] = before.digest
        body["replaced"] = "provisional" if before.is_provisional else "final"
        body["moved"] = [[line.name, line.was, line.now] for line in moved]
    return body


def _kept_under(work: Workplace, refit: Refit, digest: str) -> tuple[int, str]:
    for entry in reversed(work.store.book(refit.aircraft)):
        if entry.kind == "plan" and entry.body.get("digest") == digest:
            return int(entry.body.get("sheet", 0)), entry.at
    return 0, work.clock.now()
