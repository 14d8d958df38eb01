"""``asflown notes from-decisions``: what persons decided for one aircraft, as change notes."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common


def from_decisions(
    aircraft: str | None = None,
    /,
    *,
    refit: str | None = None,
    out: str | None = None,
    replace: Annotated[bool, Parameter(negative=())] = False,
    with_private: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Make change notes of what persons decided for one aircraft about names and meanings.

    Decisions about one aircraft's values make no note; they are named as comments. Names of people and
    private values are left out of the reasons.

    Example: asflown notes from-decisions plover --out notes.toml

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    refit
        Which refit (default: the last in which something was decided).
    out
        File to write (default: standard output).
    replace
        Write over the file where it is there already.
    with_private
        With the names of people and private values.
    """
    from asflown.app import kept
    from asflown.app.notes_from_decisions import notes_from_decisions
    from asflown.app.views.notes_made import made_json, made_sheet
    from asflown.faces.cli.console import say_text
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import write_or_replace

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    made = notes_from_decisions(work, meant, refit, with_private=with_private)
    place = str(write_or_replace(out, made.data, replace=replace)) if out is not None else None
    if place is None and not common.as_json:
        say_text(made.data)
        return DONE
    show(common, lambda: made_sheet(made, place or ""), lambda: made_json(made, place))
    return DONE
