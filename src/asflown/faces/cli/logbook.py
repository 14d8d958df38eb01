"""``asflown logbook``: the logbook of an aircraft."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def logbook(aircraft: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """Show the logbook of an aircraft, oldest entry first.

    Example: asflown logbook plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one), or releases.
    """
    from asflown.app import logbook as job
    from asflown.app.views.logbook_shown import logbook_json, logbook_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    read = job.read_book(work_in(common).store, aircraft)
    show(common, lambda: logbook_sheet(read), lambda: logbook_json(read))
    return DONE
