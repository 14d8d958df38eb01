"""``asflown flight add``: measure a flight and keep it as flown before or after a refit."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.errors import UsageError
from asflown.faces.cli.flight_measure import measure
from asflown.faces.cli.flight_options import NO_COLUMNS, NOT_STATED, Columns, FlownIn
from asflown.faces.cli.options import NO_OPTIONS, Common

Flag = Annotated[bool, Parameter(negative=())]


def add(
    file: str,
    aircraft: str | None = None,
    /,
    *,
    before: Flag = False,
    after: Flag = False,
    columns: Columns = NO_COLUMNS,
    accept_proposed: Flag = False,
    flown: FlownIn = NOT_STATED,
    baseline: str | None = None,
    keep: Flag = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Measure a flight and keep it with the settings it was flown with: those before the refit, or after it.

    Example: asflown flight add flight.csv plover --before

    Parameters
    ----------
    file
        The log: CSV, TSV, Parquet or Arrow; - reads standard input.
    aircraft
        Whose flight it is (default: the current one).
    before
        Flown with the settings as found.
    after
        Flown with the settings as left.
    accept_proposed
        Take the likeliest where a question about the columns is open; each stands among the findings.
    baseline
        Log of a healthy flight of the same aircraft: oscillation is told against it.
    keep
        Keep the log's own bytes too, however large (up to 8 MB they always are).
    """
    from asflown.app import kept
    from asflown.app.judging.sides import record_of_side
    from asflown.faces.cli.session import work_in

    if before == after:
        raise UsageError("say --before or --after, one of them", next_step="add the one that it is")
    store = work_in(common).store
    meant = kept.aircraft_meant(store, aircraft)
    record = record_of_side(store, meant, after=after)
    return measure(
        file,
        aircraft=meant,
        record=record,
        columns=columns,
        accept_proposed=accept_proposed,
        baseline=baseline,
        flown=flown,
        keep=keep,
        common=common,
    )
