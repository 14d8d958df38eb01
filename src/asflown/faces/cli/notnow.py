"""``asflown not-now``: stay on the old release."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common


def notnow(
    aircraft: str | None = None,
    /,
    *,
    why: str,
    nothing_loaded: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Stay on the old release, with the reason: a proper end of a refit.

    Example: asflown not-now plover --why "survey week; the receiver action changes"

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    why
        The reason, for the logbook.
    nothing_loaded
        A listing was written out, but nothing of it was loaded.
    """
    from asflown.app import carry_over, kept
    from asflown.app.views.logbook_shown import closed_json, closed_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    work = work_in(common)
    refit = carry_over.not_now(
        work, kept.aircraft_meant(work.store, aircraft), why, nothing_loaded=nothing_loaded
    )
    show(common, lambda: closed_sheet(refit, work.clock.now()), lambda: closed_json(refit))
    return DONE
