"""``asflown behaviour read``: gains, feed-forward and filters read out of a log."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asflown.errors import UsageError
from asflown.faces.cli.flight_options import NO_COLUMNS, Columns
from asflown.faces.cli.options import NO_OPTIONS, Common

if TYPE_CHECKING:
    from asflown.app.read_controller import ReadLog

Flag = Annotated[bool, Parameter(negative=())]


def read(
    file: str,
    /,
    *,
    loop_rate: float | None = None,
    start: Annotated[float | None, Parameter(name="--from")] = None,
    end: Annotated[float | None, Parameter(name="--to")] = None,
    columns: Columns = NO_COLUMNS,
    accept_proposed: Flag = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Read the controllers of the turning rates out of a log: of a flight, or of an aircraft rocked by hand.

    Works with any firmware: it needs the measured rates, and the controller's output or every motor's
    command. On the bench: propellers off, people clear. asflown never arms; whether to do so is yours to
    decide. Exit code 0 when the family fits every axis, 3 when nothing could be read or an axis does not fit.

    Example: asflown behaviour read rock.csv --loop-rate 4000

    Parameters
    ----------
    file
        The log: CSV, TSV, Parquet or Arrow; - reads standard input.
    loop_rate
        Hz at which the controller runs, where you know it: filters are then told more closely.
    start
        Use the log from here on, s.
    end
        Use the log up to here, s.
    accept_proposed
        Take the likeliest where a question about the columns is open.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app.views.read_shown import read_json, read_sheet
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show

    made = read_file_of(
        file, columns, loop_rate=loop_rate, start=start, end=end, accept=accept_proposed, common=common
    )
    show(common, lambda: read_sheet(made), lambda: read_json(made))
    return DONE if made.fits else NOT_ENOUGH


def read_file_of(
    file: str,
    columns: Columns,
    *,
    loop_rate: float | None,
    start: float | None = None,
    end: float | None = None,
    accept: bool,
    common: Common,
) -> ReadLog:
    """Open a log, settle its columns and read its controllers.

    Raises
    ------
    UsageError
        For a loop rate that is none.
    """
    from asflown.app.flights.open_log import open_log
    from asflown.app.read_controller import read_log
    from asflown.faces.cli.flight_measure import no_warnings, settled
    from asflown.faces.cli.flight_options import said
    from asflown.faces.cli.progress import waiting
    from asflown.faces.wiring import kept_store, log_source

    if loop_rate is not None and not 50.0 <= loop_rate <= 1e5:
        raise UsageError(
            f"--loop-rate {loop_rate:g} is no rate of a loop", next_step="give it in Hz, e.g. 4000"
        )
    no_warnings()
    stated, source = said(columns), log_source(file)
    with waiting(f"reading {source.name}"):
        opened = open_log(source, stated, store=kept_store(common.store))
    opened = settled(opened, stated, accept=accept, common=common)
    with waiting(f"reading the controllers of {source.name}"):
        return read_log(opened, start=start, end=end, loop_rate=loop_rate)
