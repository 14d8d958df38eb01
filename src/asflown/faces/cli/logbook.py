"""``asflown logbook``: the logbook of an aircraft."""

from __future__ import annotations

from asflown.faces.cli.drawn import NO_FIGURES, Draw
from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print


def logbook(
    aircraft: str | None = None,
    /,
    *,
    draw: Draw = NO_FIGURES,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Show the logbook of an aircraft, oldest entry first.

    Example: asflown logbook plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one), or releases.
    """
    from asflown.app import logbook as job
    from asflown.app.views.logbook_shown import logbook_json, logbook_sheet
    from asflown.faces import drawings
    from asflown.faces.cli.drawn import check, noted, write
    from asflown.faces.cli.printed import check as check_print
    from asflown.faces.cli.printed import put, told
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.report.printed import with_drawings

    check(draw)
    check_print(print_to)
    read = job.read_book(work_in(common).store, aircraft)
    drawn = write(draw, lambda: drawings.of_logbook(read))
    paper = put(
        print_to,
        lambda: with_drawings(logbook_sheet(read), lambda: logbook_json(read), drawings.of_logbook(read)),
    )
    show(
        common,
        lambda: told(paper, noted(drawn, logbook_sheet(read))),
        lambda: told(paper, noted(drawn, logbook_json(read))),
    )
    return DONE
