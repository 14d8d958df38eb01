"""The acts of ``asflown decide``: look, settle, adopt, undo, and the walk through what is open."""

from __future__ import annotations

from asflown.app import decide, kept
from asflown.app.carry_over import Made
from asflown.app.views.carry_shown import needs_person
from asflown.app.views.decide_shown import (
    adopted_says,
    as_before_json,
    as_before_sheet,
    open_json,
    open_sheet,
    slip_sheet,
)
from asflown.app.workplace import Workplace
from asflown.core.carry.before import AS_BEFORE
from asflown.core.plan import Group
from asflown.errors import AsflownError, UsageError
from asflown.faces.cli.console import ask, is_terminal, say, say_error, say_sheet
from asflown.faces.cli.options import Common
from asflown.faces.cli.session import DONE, NEEDS_YOU, show


def meant(work: Workplace, first: str | None, second: str | None) -> tuple[str, str | None]:
    """The aircraft and the group; a group alone is about the current aircraft."""
    if first is None or second is not None or work.store.document("aircraft", first) is not None:
        return kept.aircraft_meant(work.store, first), second
    return kept.aircraft_meant(work.store, None), first


def look(work: Workplace, common: Common, aircraft: str, group: str | None) -> int:
    """Show what is open; at a terminal, walk through it."""
    made = decide.open_plan(work, aircraft)
    if group is not None:
        slip = decide.group_of(made.plan, group)
        show(common, lambda: slip_sheet(made, slip), lambda: open_json(made))
        return NEEDS_YOU
    if is_terminal() and not common.as_json and made.plan.open_groups:
        return walk(work, common, aircraft, made)
    return _after(common, made, "")


def settle(
    work: Workplace,
    common: Common,
    aircraft: str,
    group: str | None,
    option: str,
    why: str | None,
    only: tuple[str, ...],
    but: tuple[str, ...],
    values: tuple[str, ...],
) -> int:
    """Settle one group."""
    if group is None:
        raise UsageError("which group?", next_step=f"see what is open: asflown decide {aircraft}")
    choice = decide.Choice(group, option, why or "", only, but, _typed(values))
    made = decide.decide(work, aircraft, choice)
    return _after(common, made, "Kept.")


def one_act(work: Workplace, common: Common, aircraft: str, *, undo: bool, why: str | None) -> int:
    """Adopt the factory values, or take the last decision back."""
    if undo:
        return _after(common, decide.undo(work, aircraft, why or ""), "The last decision is taken back.")
    made = decide.adopt_factory(work, aircraft, why or "")
    return _after(common, made, adopted_says(made))


def as_before(work: Workplace, common: Common, aircraft: str, group: str | None, why: str) -> int:
    """Settle what is clear as it was decided before: one group, or all but safety."""
    if group is not None:
        return settle(work, common, aircraft, group, AS_BEFORE, why, (), (), ())
    done = decide.as_before(work, aircraft, why)
    show(common, lambda: as_before_sheet(done), lambda: as_before_json(done))
    return NEEDS_YOU if needs_person(done.made) else DONE


def walk(work: Workplace, common: Common, aircraft: str, made: Made) -> int:
    """Ask one group after the other; an empty answer leaves a group open, ``stop`` ends the walk."""
    say_sheet(open_sheet(made), plain=common.plain)
    left: set[str] = set()
    while (group := _next_group(made, left)) is not None:
        say_sheet(slip_sheet(made, group), plain=common.plain)
        try:
            option = ask(f"choose {' | '.join(group.option_ids)} (empty: leave open, stop: end): ")
            if option == "stop":
                break
            if not option:
                left.add(group.id)
                continue
            made = _asked(work, aircraft, group, option)
        except EOFError:
            break
        except AsflownError as error:
            say_error(error, as_json=False, plain=common.plain)
            if error.exit_code != UsageError.exit_code:
                raise
    return _after(common, made, "")


def _asked(work: Workplace, aircraft: str, group: Group, option: str) -> Made:
    values: dict[str, str] = {}
    if option == "value":
        for line in group.lines:
            for item in (line.old or line.new)[:1]:
                values[line.id] = ask(f"{item.key} = ")
    why = ask("why: ")
    return decide.decide(work, aircraft, decide.Choice(group.id, option, why, values=values))


def _next_group(made: Made, left: set[str]) -> Group | None:
    return next((group for group in made.plan.open_groups if group.id not in left), None)


def _typed(values: tuple[str, ...]) -> dict[str, str]:
    typed: dict[str, str] = {}
    for text in values:
        name, sign, value = text.partition("=")
        if not sign or not name.strip():
            raise UsageError(f"{text!r} is no NAME=VALUE", next_step="write --value NAME=VALUE")
        typed[name.strip()] = value.strip()
    return typed


def _after(common: Common, made: Made, sentence: str) -> int:
    show(common, lambda: open_sheet(made, sentence), lambda: open_json(made))
    if not made.plan.open_groups and not common.as_json and made.plan.blocking:
        say("a finding still blocks; see asflown plan", plain=common.plain)
    return NEEDS_YOU if needs_person(made) else DONE
