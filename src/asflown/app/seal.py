"""The seal: a plan holds for the named hashes it was made from, and for no others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from asflown.app.needs import Store
from asflown.app.plans import DECISIONS, decided, undecided
from asflown.app.precedents import BEFORE, offers_moved
from asflown.app.question import Gathered, gather
from asflown.core.carry.carry import offered
from asflown.core.plan import Plan, Sealed
from asflown.core.refit import Refit
from asflown.errors import Fault, NeedsPerson, Stale


def moved(was: Sequence[Sealed], now: Sequence[Sealed]) -> tuple[Fault, ...]:
    """Which inputs moved and how: changed, gone, or come in."""
    before = {item.name: item.sha256 for item in was}
    after = {item.name: item.sha256 for item in now}
    return (*_moved(before, after), *_come(before, after))


def _moved(before: dict[str, str], after: dict[str, str]) -> Iterable[Fault]:
    for name, sha256 in before.items():
        if name not in after:
            yield Fault(f"was {sha256[:12]}, is not an input any more", name)
        elif after[name] != sha256:
            yield Fault(f"was {sha256[:12]}, is {after[name][:12]}", name)


def _come(before: dict[str, str], after: dict[str, str]) -> Iterable[Fault]:
    for name, sha256 in after.items():
        if name not in before:
            yield Fault(f"was no input, is {sha256[:12]} now", name)


def check_seal(store: Store, refit: Refit) -> Plan:
    """The plan of a refit with its decisions, if every input is still what it was made from.

    Raises
    ------
    NeedsPerson
        When there is no plan.
    Stale
        Naming each input that moved, and how.
    """
    return decided(still_sealed(store, refit)[0], refit.decisions)


def still_sealed(store: Store, refit: Refit) -> tuple[Plan, Gathered]:
    """The undecided plan of a refit with what it was made from, if that is still the same.

    Decisions are no input that moves behind the plan's back: they stand in the refit itself. What was decided
    in other refits holds the plan up only where a line still open would be offered another way.

    Raises
    ------
    NeedsPerson, Stale
        As :func:`check_seal`.
    """
    plan = undecided(store, refit)
    if plan is None:
        raise NeedsPerson(
            f"refit {refit.id} has no plan", next_step=f"make it: asflown plan {refit.aircraft}"
        )
    gathered = gather(store, refit)
    was = [item for item in plan.inputs if item.name not in (DECISIONS, BEFORE)]
    faults = moved(was, [item for item in gathered.inputs if item.name != DECISIONS])
    faults = faults or _offers_moved(plan, refit, gathered)
    if faults:
        raise Stale(
            f"the plan of {refit.id} was made from inputs that have moved since",
            faults=faults,
            next_step=f"make it again: asflown plan {refit.aircraft}",
        )
    return plan, gathered


def _offers_moved(plan: Plan, refit: Refit, gathered: Gathered) -> tuple[Fault, ...]:
    """Which open lines would be offered another way, by what was decided in other refits since."""
    is_sealed = any(item.name == BEFORE for item in plan.inputs)
    if not is_sealed and not gathered.question.precedents:
        return ()
    now = offered(gathered.question, plan.lines)
    return tuple(
        Fault(moved.says, f"{BEFORE}: {moved.name}")
        for moved in offers_moved(plan.lines, now, refit.decisions)
    )
