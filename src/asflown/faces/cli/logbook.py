"""``asflown logbook``: the logbook of an aircraft."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from asflown.faces.cli.drawn import NO_FIGURES, Draw
from asflown.faces.cli.options import NO_OPTIONS, Common

if TYPE_CHECKING:
    from asflown.app.views.timeline_shown import Timeline
    from asflown.figures.figure import Figure


def logbook(aircraft: str | None = None, /, *, draw: Draw = NO_FIGURES, common: Common = NO_OPTIONS) -> int:
    """Show the logbook of an aircraft, oldest entry first.

    Example: asflown logbook plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one), or releases.
    """
    from asflown.app import logbook as job
    from asflown.app.views.logbook_shown import logbook_json, logbook_sheet
    from asflown.app.views.timeline_shown import timeline
    from asflown.faces.cli.drawn import check, noted, write
    from asflown.faces.cli.session import DONE, show, work_in

    check(draw)
    read = job.read_book(work_in(common).store, aircraft)
    drawn = write(draw, lambda: _figures(timeline(read)))
    show(common, lambda: noted(drawn, logbook_sheet(read)), lambda: noted(drawn, logbook_json(read)))
    return DONE


def _figures(made: Timeline) -> Iterator[Figure]:
    from asflown.figures.timeline import timeline_figure

    figure = timeline_figure(made.name, made.rows, made.moments, made.ticks, made.says)
    if figure is not None:
        yield figure
