"""``asflown decide``: settle what is open."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.errors import UsageError
from asflown.faces.cli.options import NO_OPTIONS, Common


def decide(
    aircraft_or_group: str | None = None,
    group: str | None = None,
    /,
    *,
    choose: str | None = None,
    why: str | None = None,
    only: Annotated[tuple[str, ...], Parameter(consume_multiple=True, negative=())] = (),
    but: Annotated[tuple[str, ...], Parameter(name="--except", consume_multiple=True, negative=())] = (),
    value: Annotated[tuple[str, ...], Parameter(consume_multiple=True, negative=())] = (),
    adopt_factory: Annotated[bool, Parameter(negative=())] = False,
    as_before: str | None = None,
    undo: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Settle what is open, with a choice and a reason that stay in the logbook.

    Without a choice: shows what is open, safety first; at a terminal, asks one after the other.
    Exit code 0 when nothing is open any more, 2 while something is.

    Example: asflown decide plover new-unit --choose convert --why "notes of 3.0, checked by hand"

    Parameters
    ----------
    aircraft_or_group
        Which aircraft (default: the current one), or the group when it stands alone.
    group
        Which group; the beginning of its name will do.
    choose
        The option, as the list shows it.
    why
        The reason.
    only
        Settle these settings alone.
    but
        Leave these settings open.
    value
        Typed values: NAME=VALUE.
    adopt_factory
        Take the new factory value for everything whose factory value moved and everything new, as one act.
    as_before
        Settle, with this reason, all that was decided alike for other aircraft between the same releases;
        what touches safety, or nobody stated what it touches, is left to be chosen by itself.
    undo
        Take the last decision back.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.faces.cli import decide_acts as acts
    from asflown.faces.cli.session import work_in

    work = work_in(common)
    aircraft, meant = acts.meant(work, aircraft_or_group, group)
    if sum((adopt_factory, undo, as_before is not None, choose is not None or bool(value))) > 1:
        raise UsageError(
            "--choose, --adopt-factory, --as-before and --undo are four acts", next_step="do one of them"
        )
    if as_before is not None:
        return acts.as_before(work, common, aircraft, meant, as_before)
    if adopt_factory or undo:
        return acts.one_act(work, common, aircraft, undo=undo, why=why)
    if choose is not None or value:
        return acts.settle(work, common, aircraft, meant, choose or "value", why, only, but, value)
    return acts.look(work, common, aircraft, meant)
