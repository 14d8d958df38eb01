"""Plan a refit: open or continue it, make the carry-over, seal and keep it; or stay (not now)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from asflown.app import gates, kept, plans
from asflown.app.held import held, is_predicted
from asflown.app.needs import Store
from asflown.app.open_refit import Ask as Ask
from asflown.app.open_refit import continued, opened, with_originals
from asflown.app.plans import decided
from asflown.app.precedents import sealed_before
from asflown.app.question import Gathered, gather, read_notes
from asflown.app.unknown_release import refuse_unknown
from asflown.app.workplace import Workplace
from asflown.core.carry.carry import carry_over
from asflown.core.carry.dispositions import Line
from asflown.core.catalog import Catalog, Consequence
from asflown.core.finding import Finding
from asflown.core.logbook import Entry
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Record
from asflown.core.refit import Refit, State
from asflown.errors import NeedsPerson, UsageError
from asflown.formats import documents

if TYPE_CHECKING:
    from asflown.app.predict import Predicted


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
    refit = opened(work, ask) if before is None else continued(work, ask, before.refit)
    if ask.notes:
        for data, name in ask.notes:
            read_notes(data, name)  # a file that cannot be read is refused before anything is kept
        with work.store.transaction() as tx:
            given = [tx.keep(data, name=name, kind="notes") for data, name in ask.notes]
        refit = replace(refit, notes=with_originals(refit.notes, given))
    work.store.remember(kept.CURRENT, aircraft.id)
    return keep_plan(work, refit, before.revision if before else 0)


def keep_plan(work: Workplace, refit: Refit, revision: int) -> Made:
    """Make a refit's plan and keep it with the refit, unless nothing moved since one was asked for.

    Parameters
    ----------
    revision
        The refit's revision last seen, 0 for a new one.
    """
    gathered = gather(work.store, refit)
    refuse_unknown(work.store, gathered.question, refit)
    base = _undecided(work, gathered, refit)
    plan = decided(base, refit.decisions)
    before = plans.standing(work.store, refit)
    standing = replace(_with_digest(refit, plan), state=_state(refit, plan))
    last = _last_plan_entry(work, refit)
    if before is not None and last is not None and before.digest == plan.digest == last.body.get("digest"):
        return _made(refit, plan, gathered, int(last.body.get("sheet", 0)), last.at)
    moved = moved_lines(before, plan) if before is not None else ()
    with work.store.transaction() as tx:
        sheet = tx.next_sheet(refit.aircraft)
        tx.put("refit", refit.id, documents.dump(standing), expect=revision)
        document = plans.keep_undecided(tx, work.store, refit, base)
        body = {**_entry(plan, refit, sheet, last, moved), "id": document.id, "sha256": document.sha256}
        tx.log(refit.aircraft, "plan", body)
    made = _made(standing, plan, gathered, sheet, work.clock.now())
    replaces = before is not None and before.is_provisional and not plan.is_provisional
    return replace(made, was_kept=True, moved=moved, replaced_provisional=replaces)


def keep_decided(
    work: Workplace, refit: Refit, revision: int, base: Plan, gathered: Gathered, entries: tuple[Pending, ...]
) -> Made:
    """Keep a refit with other decisions; the logbook keeps the digest of the plan they lead to.

    Parameters
    ----------
    base, gathered
        The undecided plan, and what it was made from.
    entries
        Logbook entries of the act.
    """
    now = _undecided(work, gathered, refit) if is_predicted(base) else base
    plan = decided(now, refit.decisions)
    standing = replace(_with_digest(refit, plan), state=_state(refit, plan))
    with work.store.transaction() as tx:
        tx.put("refit", refit.id, documents.dump(standing), expect=revision)
        if now != base:
            plans.keep_undecided(tx, work.store, refit, now)
        for entry in entries:
            led_to = {"plan": plan.digest, "open": len(plan.open_groups), "lapsed": list(plan.lapsed)}
            tx.log(refit.aircraft, entry.kind, {**entry.body, **led_to})
    return replace(_made(standing, plan, gathered, 0, work.clock.now()), was_kept=True)


def foreseen(store: Store, made: Made) -> Predicted | None:
    """How the aircraft would fly with a plan; ``None`` where the plan rests on no flight."""
    if made.refit.device != "board" or not is_predicted(made.plan):
        return None
    from asflown.app.predict import predict_plan

    return predict_plan(store, made.refit, made.plan)


def _made(refit: Refit, plan: Plan, gathered: Gathered, sheet: int, at: str) -> Made:
    question = gathered.question
    old = question.old.catalog if question.old else None
    return Made(plan, refit, question.record, old, question.new.catalog, sheet, at, was_kept=False)


@dataclass(frozen=True)
class Pending:
    """A logbook entry to be written with the plan."""

    kind: str
    body: Mapping[str, object] = field(default_factory=dict)


def _undecided(work: Workplace, gathered: Gathered, refit: Refit) -> Plan:
    """The plan before any decision, with what its prediction and its port plan hold and tell."""
    plan = held(work.store, refit, undecided_plan(gathered, refit))
    if refit.device != "board" or gathered.question.new.catalog is None:
        return plan
    from asflown.app.ports import findings_of_plan

    found = findings_of_plan(work, refit, plan, gathered.question.new, gathered.question.record)
    return replace(plan, findings=(*plan.findings, *found))


def undecided_plan(gathered: Gathered, refit: Refit) -> Plan:
    """The sealed plan before any decision; pure but for what was gathered."""
    base = carry_over(gathered.question)
    findings = base.findings
    if gathered.path_says is not None and not _same_release(gathered):
        findings = (*findings, _no_path(gathered.path_says, refit))
    if refit.purpose is Purpose.REFIT and _same_release(gathered):
        findings = (*findings, _nothing_new(refit))
    inputs = (*gathered.inputs, *sealed_before(base.lines))
    return replace(base, findings=findings, aircraft=refit.aircraft, inputs=inputs)


def open_plan(work: Workplace, refit: Refit, base: Plan, gathered: Gathered) -> Made:
    """A refit's plan as it stands, not kept again."""
    return _made(refit, decided(base, refit.decisions), gathered, 0, work.clock.now())


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
                "purpose": refit.purpose.value,
                "to_board": refit.to_board,
                "why": why.strip(),
                "open": _still_open(work, refit),
            },
        )
    return closed


def _still_open(work: Workplace, refit: Refit) -> int:
    plan = plans.standing(work.store, refit)
    return len(plan.open_groups) if plan else 0


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


def _nothing_new(refit: Refit) -> Finding:
    return Finding(
        "carry-over",
        refit.to_release,
        Consequence.NONE,
        f"the record was already read under {refit.to_release}: a refit to the same release sets the same"
        " values again",
        ("name another release with --to, or a new board with --new-board",),
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
    if line.is_open:
        return f"to decide ({line.cause})"
    values = ", ".join(
        f"{item.key} = {item.value if item.value is not None else 'made on the aircraft'}"
        for item in line.new
    )
    return f"{line.disposition}: {values}" if values else str(line.disposition)


def _entry(
    plan: Plan, refit: Refit, sheet: int, last: Entry | None, moved: tuple[MovedLine, ...]
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
    if last is not None:
        body["replaces"] = last.body.get("digest")
        body["replaced"] = last.body.get("plan")
        body["moved"] = [[line.name, line.was, line.now] for line in moved]
    return body


def _last_plan_entry(work: Workplace, refit: Refit) -> Entry | None:
    """The logbook entry of the plan that was asked for last in a refit."""
    for entry in reversed(work.store.book(refit.aircraft)):
        if entry.kind == "plan" and entry.body.get("refit") == refit.id:
            return entry
    return None
