"""Settle what is open in a plan: a choice and a reason, kept in the logbook; never silently lost."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from asflown.app import carry_over, gates, kept
from asflown.app.carry_over import Made, Pending, keep_decided
from asflown.app.decide_before import LeftOpen, ways_before, why_left
from asflown.app.plans import decided
from asflown.app.question import Gathered
from asflown.app.seal import still_sealed
from asflown.app.workplace import Workplace
from asflown.core.carry.before import AS_BEFORE
from asflown.core.carry.dispositions import Cause, Line, Option
from asflown.core.carry.settle import Decision, settle
from asflown.core.carry.weigh import check_fit
from asflown.core.catalog import Consequence
from asflown.core.plan import Group, Plan
from asflown.core.refit import State
from asflown.errors import Fault, InputError, NeedsPerson, Stale, UsageError

#: Causes whose lines `adopt_factory` may settle as one act.
ADOPTABLE = frozenset({Cause.MOVED_FACTORY, Cause.NEW})

#: Why a group whose way is clear may still stay open.
CLASH = "its place is already filled by another setting"

#: How often a decision is tried again when another person decided at the same instant.
TRIES = 8


@dataclass(frozen=True)
class Choice:
    """What a person chose.

    Attributes
    ----------
    group
        The group's identifier, or the beginning of it where only one begins so.
    option
        Word of an option; ``value`` goes with ``values``, ``as-before`` is what was decided before.
    only, but
        Settings by name that alone are meant / that are left open; both empty: the whole group.
    values
        Typed value by setting name.
    """

    group: str
    option: str
    why: str
    only: tuple[str, ...] = ()
    but: tuple[str, ...] = ()
    values: Mapping[str, str] = field(default_factory=dict)


def open_plan(work: Workplace, aircraft: str) -> Made:
    """The open refit's plan as it stands, made afresh but not kept.

    Raises
    ------
    Stale
        When an input moved since it was kept.
    """
    found = kept.needed_refit(work.store, aircraft)
    base, gathered = still_sealed(work.store, found.refit)
    return carry_over.open_plan(work, found.refit, base, gathered)


def decide(work: Workplace, aircraft: str, choice: Choice) -> Made:
    """Settle one group, or some lines of it.

    Raises
    ------
    UsageError
        When the group, the option or a name is not there, or no reason is given.
    InputError
        When a typed value does not fit the new setting.
    Stale
        When an input of the plan moved.
    """
    _reason(choice.why)

    def choose(gathered: Gathered, plan: Plan) -> tuple[Decision, ...]:
        group = group_of(plan, choice.group)
        lines = _lines(group, choice)
        option = "value" if choice.values and not choice.option else choice.option
        if option == AS_BEFORE:
            return _decisions_before(work, group, lines, choice.why)
        _offered(group, lines, option)
        values = _values(gathered, lines, choice, option)
        return (_decision(work, group.id, option, lines, choice.why, values),)

    return _settle(work, aircraft, choose)


def adopt_factory(work: Workplace, aircraft: str, why: str) -> Made:
    """Take the new factory value in every open line about moved factory values and new settings: one act."""
    _reason(why)

    def choose(gathered: Gathered, plan: Plan) -> tuple[Decision, ...]:
        made = []
        for group in plan.open_groups:
            lines = [line for line in group.lines if line.cause in ADOPTABLE and _has(line, "factory")]
            if lines:
                made.append(_decision(work, group.id, "factory", lines, why, {}))
        if not made:
            raise UsageError(
                "nothing open is about moved factory values or new settings",
                next_step=f"see what is open: asflown decide {aircraft}",
            )
        return tuple(made)

    return _settle(work, aircraft, choose)


@dataclass(frozen=True)
class AsBefore:
    """What was settled as before.

    Attributes
    ----------
    settled
        Identifiers of the groups.
    left
        What stays open, each with the reason.
    """

    made: Made
    settled: tuple[str, ...]
    left: tuple[LeftOpen, ...]


def as_before(work: Workplace, aircraft: str, why: str) -> AsBefore:
    """Settle every open group as it was decided before, where that is clear and no safety is touched.

    Groups of safety or unknown consequence are left, each to be chosen by itself.

    Raises
    ------
    UsageError
        When no group is clear, or no reason is given.
    """
    _reason(why)
    settled: tuple[str, ...] = ()

    def choose(gathered: Gathered, plan: Plan) -> tuple[Decision, ...]:
        nonlocal settled
        made: list[Decision] = []
        taken = []
        for group in plan.open_groups:
            fresh = () if why_left(group) else _decisions_before(work, group, group.lines, why)
            if fresh and not settle(plan, (*made, *fresh)).lapsed:
                made += fresh
                taken.append(group.id)
        if not made:
            raise UsageError(
                "nothing open can be settled as before all at once",
                faults=tuple(Fault(why_left(group) or CLASH, group.id) for group in plan.open_groups[:12]),
                next_step=f"see what is open: asflown decide {aircraft}",
            )
        settled = tuple(taken)
        return tuple(made)

    made = _settle(work, aircraft, choose)
    left = tuple(LeftOpen(group.id, why_left(group) or CLASH) for group in made.plan.open_groups)
    return AsBefore(made, settled, left)


def _decisions_before(work: Workplace, group: Group, lines: Sequence[Line], why: str) -> tuple[Decision, ...]:
    """Each line by the option it was settled with before: a decision an option."""
    return tuple(
        _decision(work, group.id, option, chosen, why, values)
        for option, (chosen, values) in ways_before(lines).items()
    )


def undo(work: Workplace, aircraft: str, why: str) -> Made:
    """Take the last decision back; it stays in the logbook, with the reason."""
    _reason(why)
    for _ in range(TRIES):
        found = _ready(work, aircraft)
        if not found.refit.decisions:
            raise UsageError("there is no decision to take back", next_step="see the logbook")
        base, gathered = still_sealed(work.store, found.refit)
        last = found.refit.decisions[-1]
        refit = replace(found.refit, decisions=found.refit.decisions[:-1])
        body = {"refit": refit.id, "undone": _body(last), "why": why.strip()}
        try:
            return keep_decided(work, refit, found.revision, base, gathered, (Pending("decision", body),))
        except Stale:
            continue
    raise _busy()


def _settle(work: Workplace, aircraft: str, choose: Callable[[Gathered, Plan], tuple[Decision, ...]]) -> Made:
    """Make decisions against the plan as it stands now; again when another person was faster."""
    for _ in range(TRIES):
        found = _ready(work, aircraft)
        base, gathered = still_sealed(work.store, found.refit)
        plan = decided(base, found.refit.decisions)
        decisions = choose(gathered, plan)
        refit = replace(found.refit, decisions=(*found.refit.decisions, *decisions))
        _holds(decided(base, refit.decisions), plan)
        entries = tuple(
            Pending("decision", {"refit": refit.id, **_body(d), **_follows(plan, d)}) for d in decisions
        )
        try:
            return keep_decided(work, refit, found.revision, base, gathered, entries)
        except Stale:
            continue  # another decision was kept in between; this one is looked at afresh
    raise _busy()


def _ready(work: Workplace, aircraft: str) -> kept.KeptRefit:
    """The open refit, where deciding is possible."""
    found = kept.needed_refit(work.store, aircraft)
    if not gates.may_become(found.refit.state, State.PLANNING):
        gates.moved(found.refit, State.PLANNING)
    return found


def _busy() -> NeedsPerson:
    return NeedsPerson(
        "others keep deciding in the same refit at this moment", next_step="run the command again"
    )


def _reason(why: str) -> None:
    if not why.strip():
        raise UsageError("say why: the reason goes into the logbook", next_step="add --why REASON")


def group_of(plan: Plan, said: str) -> Group:
    """The open group of that name, or the only one whose name begins so."""
    groups = plan.open_groups
    exact = [group for group in groups if group.id == said]
    near = exact or [group for group in groups if group.id.startswith(said)]
    if len(near) == 1:
        return near[0]
    names = ", ".join(group.id for group in (near or groups)) or "none"
    if near:
        raise UsageError(f"{said!r} begins several open groups", next_step=f"say which: {names}")
    raise UsageError(f"no open group is called {said!r}", next_step=f"open: {names}")


def _lines(group: Group, choice: Choice) -> list[Line]:
    wanted = (*choice.only, *choice.but, *choice.values)
    unknown = [name for name in wanted if not any(_is_called(line, name) for line in group.lines)]
    if unknown:
        raise UsageError(
            f"not in group {group.id}: {', '.join(unknown)}",
            next_step="its settings: " + ", ".join(_called(line) for line in group.lines[:12]),
        )
    only = choice.only or (tuple(choice.values) if choice.values else ())
    lines = [
        line
        for line in group.lines
        if (not only or any(_is_called(line, name) for name in only))
        and not any(_is_called(line, name) for name in choice.but)
    ]
    if not lines:
        raise UsageError(f"nothing of group {group.id} is left by --except", next_step="leave some in")
    return lines


def _offered(group: Group, lines: Sequence[Line], option: str) -> None:
    missing = [line for line in lines if not _has(line, option)]
    if not missing:
        return
    common = ", ".join(Group(group.id, tuple(lines)).option_ids) or "none for all of them; use --only"
    raise UsageError(
        f"{option!r} is not offered for {', '.join(_called(line) for line in missing[:6])}",
        next_step=f"offered: {common}",
    )


def _values(gathered: Gathered, lines: Sequence[Line], choice: Choice, option: str) -> dict[str, str]:
    """Typed values by line, each checked against the new setting's range and choices."""
    if option != "value":
        if choice.values:
            raise UsageError(
                f"--value goes with --choose value, not with {option!r}", next_step="leave one of them out"
            )
        return {}
    values: dict[str, str] = {}
    faults: list[Fault] = []
    catalog = gathered.question.new.catalog
    for line in lines:
        typed = next((v for name, v in choice.values.items() if _is_called(line, name)), None)
        if typed is None:
            faults.append(Fault("no value typed", _called(line)))
            continue
        values[line.id] = typed
        chosen: Option = next(o for o in line.ways if o.id == "value")
        for item in chosen.new:
            definition = catalog.by_name.get(item.key.name) if catalog else None
            fit = check_fit(typed, definition) if definition else None
            if fit is not None and not fit.is_allowed:
                faults.append(Fault(fit.says, str(item.key)))
    if faults:
        raise InputError(
            "the values do not do",
            faults=tuple(faults),
            next_step="type one for each: --value NAME=VALUE; or settle fewer: --only NAME",
        )
    return values


def _holds(after: Plan, before: Plan) -> None:
    """Refuse a decision that would not stand."""
    fresh = [text for text in after.lapsed if text not in before.lapsed]
    if fresh:
        raise InputError(
            "this decision would not stand, and is not kept",
            faults=tuple(Fault(text) for text in fresh),
            next_step="choose otherwise, or take the earlier decision back: asflown decide --undo",
        )


def _decision(
    work: Workplace, group: str, option: str, lines: Sequence[Line], why: str, values: Mapping[str, str]
) -> Decision:
    return Decision(
        group=group,
        option=option,
        lines={line.id: line.fingerprint for line in lines},
        reason=why.strip(),
        who=work.who,
        at=work.clock.now(),
        values=dict(values),
    )


def _body(decision: Decision) -> dict[str, object]:
    return {
        "group": decision.group,
        "option": decision.option,
        "lines": dict(decision.lines),
        "values": dict(decision.values),
        "reason": decision.reason,
        "who": decision.who,
    }


def _follows(plan: Plan, decision: Decision) -> dict[str, object]:
    """The refits in which the same was decided before, where there are any."""
    refits = {
        origin.refit
        for line in plan.lines
        if line.id in decision.lines and line.before is not None and line.before.option == decision.option
        for origin in line.before.origins
    }
    return {"decided_before_in": sorted(refits)} if refits else {}


def _has(line: Line, option: str) -> bool:
    return any(offered.id == option for offered in line.ways)


def _called(line: Line) -> str:
    return ", ".join(str(item.key) for item in (line.old or line.new)) or line.id


def _is_called(line: Line, name: str) -> bool:
    keys = (*(item.key for item in line.old), *(item.key for item in line.new))
    return line.id == name or any(name in (str(key), key.name) for key in keys)


def risky(groups: Sequence[Group]) -> int:
    """How many open groups touch safety, or nobody said what they touch."""
    return sum(g.consequence in (Consequence.SAFETY, Consequence.UNKNOWN) for g in groups)
