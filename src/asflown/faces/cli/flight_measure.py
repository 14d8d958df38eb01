"""``asflown flight measure``: from a log to numbers with their intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asflown.errors import UsageError
from asflown.faces.cli.drawn import NO_FIGURES, Draw
from asflown.faces.cli.flight_options import NO_COLUMNS, NOT_STATED, Columns, FlownIn
from asflown.faces.cli.options import NO_OPTIONS, Common

if TYPE_CHECKING:
    from asflown.app.flights.open_log import Opened, Said

Flag = Annotated[bool, Parameter(negative=())]


def measure(
    file: str,
    /,
    *,
    aircraft: str | None = None,
    record: str | None = None,
    columns: Columns = NO_COLUMNS,
    accept_proposed: Flag = False,
    start: Annotated[float | None, Parameter(name="--from")] = None,
    end: Annotated[float | None, Parameter(name="--to")] = None,
    baseline: str | None = None,
    flown: FlownIn = NOT_STATED,
    save_layout: str | None = None,
    keep: Flag = False,
    draw: Draw = NO_FIGURES,
    common: Common = NO_OPTIONS,
) -> int:
    """Measure a flight: handling, margins, vibration, motors, power, each with its 95 % interval or a reason.

    At a terminal the layout is shown and confirmed once, then remembered. Elsewhere nothing is asked: exit
    code 2 while a question about the columns is open. Exit code 3 when nothing could be measured.

    Example: asflown flight measure flight.csv --assume rate=deg/s --json

    Parameters
    ----------
    file
        The log: CSV, TSV, Parquet or Arrow; - reads standard input.
    aircraft
        Whose flight it is: the evidence is kept with it.
    record
        With --aircraft: the record of the settings that flew (default: the newest).
    accept_proposed
        Take the likeliest where a question about the columns is open; each stands among the findings.
    start
        Use the log from here on, s.
    end
        Use the log up to here, s.
    baseline
        Log of a healthy flight of the same aircraft: oscillation is told against it.
    save_layout
        Write the layout to this file, for --layout.
    keep
        With --aircraft: keep the log's own bytes too, however large (up to 8 MB they always are).
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    no_warnings()
    from asflown.app.flights import measure as job
    from asflown.app.flights.conditions import from_words
    from asflown.app.flights.open_log import open_log
    from asflown.app.views.flight_measured import measured_json, measured_sheet
    from asflown.faces.cli.drawn import check, noted, write
    from asflown.faces.cli.flight_options import flown_in, said
    from asflown.faces.cli.progress import waiting
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show
    from asflown.faces.drawings import Drawings
    from asflown.faces.wiring import kept_store, log_source
    from asflown.figures.flight import flight_figures

    check(draw)

    if keep and aircraft is None:
        raise UsageError(
            "--keep was given without --aircraft", next_step="say whose flight it is: --aircraft NAME"
        )
    if record is not None and aircraft is None:
        raise UsageError(
            "--record was given without --aircraft", next_step="say whose flight it is: --aircraft NAME"
        )
    conditions, stated = from_words(flown_in(flown)), said(columns)
    source = log_source(file)
    with waiting(f"reading {source.name}"):
        opened = open_log(source, stated, store=kept_store(common.store))
    opened = settled(opened, stated, accept=accept_proposed, common=common)
    if save_layout is not None:
        write_layout(opened, save_layout)
    about = declared = None
    if aircraft is not None:
        from asflown.app.flights.known import declared_controllers
        from asflown.app.kept import aircraft as described
        from asflown.faces.cli.session import work_in

        store = work_in(common).store
        about = described(store, aircraft)
        declared = declared_controllers(store, aircraft, record=record)
    healthy = None
    if baseline is not None:
        healthy = open_log(log_source(baseline), stated, store=kept_store(common.store))
        healthy = settled(healthy, stated, accept=accept_proposed, common=common)
    with waiting(f"measuring {source.name}"):
        made = job.measure(
            opened, conditions, start=start, end=end, baseline=healthy, aircraft=about, declared=declared
        )
    drawn = write(draw, lambda: Drawings(tuple(flight_figures(made.results, made.flight))))
    kept = None
    if aircraft is not None and made.study.measured:
        from asflown.app.flights.keep import keep as keep_it

        kept = keep_it(work_in(common), aircraft, made, source, whole=keep)
    show(
        common,
        lambda: noted(drawn, measured_sheet(made, kept)),
        lambda: noted(drawn, measured_json(made, kept)),
    )
    return DONE if made.study.measured else NOT_ENOUGH


def no_warnings() -> None:
    """Keep numpy's warnings off the terminal: a log may hold any number; what it cannot give has a reason."""
    import warnings

    warnings.filterwarnings("ignore", category=RuntimeWarning, module=r"asflown\.core\.")


def settled(opened: Opened, said: Said, *, accept: bool, common: Common) -> Opened:
    """The log with nothing open: the likeliest taken, or a person asked at a terminal, or refused."""
    from asflown.app.flights import settle
    from asflown.faces.cli.console import is_terminal

    if accept:
        return settle.accept(opened, said.assume)
    if is_terminal() and not common.as_json and not opened.is_confirmed:
        from asflown.faces.cli.flight_ask import ask_about

        return ask_about(opened, said, common)
    if opened.doubts:
        raise settle.needs_a_word(opened)
    return opened


def write_layout(opened: Opened, place: str) -> None:
    """Write the layout a log was read by."""
    from asflown.app.flights.layouts import file_of
    from asflown.faces.wiring import write_or_replace

    write_or_replace(place, file_of(opened.layout), replace=False)
