"""``asflown flight``: look at a log, measure it, keep what was measured."""

from __future__ import annotations

from cyclopts import App

from asflown.faces.cli.drawn import NO_FIGURES, Draw
from asflown.faces.cli.flight_add import add
from asflown.faces.cli.flight_layout import app as layout
from asflown.faces.cli.flight_measure import measure
from asflown.faces.cli.flight_options import NO_COLUMNS, NOT_STATED, Columns, FlownIn
from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

app = App(name="flight", help="Look at a flight log, measure it, keep what was measured.")
app.command(layout, name="layout")
app.command(measure, name="measure")
app.command(add, name="add")


@app.command(name="look")
def look_(
    file: str,
    /,
    *,
    columns: Columns = NO_COLUMNS,
    flown: FlownIn = NOT_STATED,
    common: Common = NO_OPTIONS,
) -> int:
    """Show what is in a log, how good it is, and what it can and cannot be used for; nothing is kept.

    Example: asflown flight look flight.csv

    Parameters
    ----------
    file
        The log: CSV, TSV, Parquet or Arrow; - reads standard input.
    """
    from asflown.app.flights.conditions import from_words
    from asflown.app.flights.look import look
    from asflown.app.flights.open_log import open_log
    from asflown.app.views.flight_look import look_json, look_sheet
    from asflown.faces.cli.flight_options import flown_in, said
    from asflown.faces.cli.progress import waiting
    from asflown.faces.cli.session import DONE, show
    from asflown.faces.wiring import kept_store, log_source

    conditions, stated = from_words(flown_in(flown)), said(columns)
    source = log_source(file)
    with waiting(f"reading {source.name}"):
        looked = look(open_log(source, stated, store=kept_store(common.store)), conditions)
    show(common, lambda: look_sheet(looked), lambda: look_json(looked))
    return DONE


@app.command(name="list")
def list_(aircraft: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """List the flights of an aircraft whose evidence is kept.

    Example: asflown flight list plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    """
    from asflown.app import kept
    from asflown.app.flights.keep import flights_of
    from asflown.app.views.flight_kept import flights_json, flights_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    store = work_in(common).store
    meant = kept.aircraft_meant(store, aircraft)
    flights = flights_of(store, meant)
    show(common, lambda: flights_sheet(meant, flights), lambda: flights_json(meant, flights))
    return DONE


@app.command(name="show")
def show_(
    flight: str,
    /,
    *,
    draw: Draw = NO_FIGURES,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Show the evidence of a flight that is kept.

    With --svg or --pdf its responses and steps are computed again from the plant that was fitted, and drawn;
    spectra and the pack's course need the log: asflown flight measure LOG --svg FOLDER.

    Example: asflown flight show plover-f1

    Parameters
    ----------
    flight
        Its id; see asflown flight list.
    """
    from asflown.app.flights.keep import flight_meant
    from asflown.app.views.flight_kept import flight_json, flight_sheet
    from asflown.faces import drawings
    from asflown.faces.cli.drawn import check, noted, write
    from asflown.faces.cli.printed import check as check_print
    from asflown.faces.cli.printed import put, told
    from asflown.faces.cli.session import DONE, one_thread_each, show, work_in
    from asflown.faces.report.printed import with_drawings

    check(draw)
    check_print(print_to)
    store = work_in(common).store
    kept = flight_meant(store, flight)
    if draw.svg is not None or print_to.pdf is not None:
        one_thread_each()
    drawn = write(draw, lambda: drawings.of_flight(store, kept))
    paper = put(
        print_to,
        lambda: with_drawings(flight_sheet(kept), lambda: flight_json(kept), drawings.of_flight(store, kept)),
    )
    show(
        common,
        lambda: told(paper, noted(drawn, flight_sheet(kept))),
        lambda: told(paper, noted(drawn, flight_json(kept))),
    )
    return DONE


@app.command(name="set-aside")
def set_aside_(flight: str, /, *, why: str, common: Common = NO_OPTIONS) -> int:
    """Set a flight aside, with the reason: nothing is judged or predicted by it. Its evidence stays.

    A verdict names the flights that were set aside.

    Example: asflown flight set-aside plover-f1 --why "a propeller came loose"

    Parameters
    ----------
    flight
        Its id; see asflown flight list.
    why
        The reason; it goes into the logbook and on the verdict.
    """
    from asflown.app.flights.set_aside import set_aside
    from asflown.app.views.flight_kept import flight_json, flight_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    changed = set_aside(work_in(common), flight, why)
    show(common, lambda: flight_sheet(changed), lambda: flight_json(changed))
    return DONE


@app.command(name="count")
def count_(flight: str, /, *, why: str, common: Common = NO_OPTIONS) -> int:
    """Let a flight that was set aside count again.

    Example: asflown flight count plover-f1 --why "the propeller was that of another aircraft"

    Parameters
    ----------
    flight
        Its id; see asflown flight list.
    why
        The reason; it goes into the logbook.
    """
    from asflown.app.flights.set_aside import count_again
    from asflown.app.views.flight_kept import flight_json, flight_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    changed = count_again(work_in(common), flight, why)
    show(common, lambda: flight_sheet(changed), lambda: flight_json(changed))
    return DONE
