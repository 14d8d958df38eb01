"""``asflown predict``: how an aircraft would fly with other settings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asflown.errors import UsageError
from asflown.faces.cli.drawn import NO_FIGURES, Draw
from asflown.faces.cli.flight_options import NO_COLUMNS, Columns
from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

if TYPE_CHECKING:
    from asflown.app.needs import Store
    from asflown.app.predict import Predicted

Flag = Annotated[bool, Parameter(negative=())]


def predict(
    aircraft: str | None = None,
    /,
    *,
    flight: str | None = None,
    record: str | None = None,
    controller_log: str | None = None,
    loop_rate: float | None = None,
    columns: Columns = NO_COLUMNS,
    accept_proposed: Flag = False,
    draw: Draw = NO_FIGURES,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Predict how the aircraft answers with the open refit's plan, or with a record's settings.

    From a baseline flight that was kept and the control structures that both releases declare: response,
    margins, step and noise before and after, with 95 % intervals. Where the new release declares none, its
    controller is read from a log: of the aircraft rocked by hand, propellers off, with the new settings.
    Nothing is touched. Exit code 0 when it holds, 2 when an axis would be unstable or close to it, 3 when no
    axis can be predicted.

    Example: asflown predict plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    flight
        The baseline flight (default: the newest one kept).
    record
        Predict for this record's settings in place of the plan's.
    controller_log
        Predict for the controller in this log (see asflown behaviour read).
    loop_rate
        With --controller-log: Hz at which that controller runs, where you know it.
    accept_proposed
        With --controller-log: take the likeliest where a question about its columns is open.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app import kept
    from asflown.app.predict import predict_aircraft
    from asflown.app.views.predict_shown import predicted_json, predicted_sheet
    from asflown.faces import drawings
    from asflown.faces.cli.drawn import check, noted, write
    from asflown.faces.cli.printed import check as check_print
    from asflown.faces.cli.printed import put, told
    from asflown.faces.cli.session import DONE, NEEDS_YOU, NOT_ENOUGH, show, work_in
    from asflown.faces.report.printed import with_drawings

    check(draw)
    check_print(print_to)
    store = work_in(common).store
    meant = kept.aircraft_meant(store, aircraft)
    if controller_log is None:
        made = predict_aircraft(store, meant, flight=flight, record=record)
    else:
        if record is not None:
            raise UsageError(
                "--record and --controller-log were given together",
                next_step="leave one out: settings by a record, or a controller by a log",
            )
        made = _by_log(
            store, meant, controller_log, columns, flight, loop_rate, accept=accept_proposed, common=common
        )
    drawn = write(draw, lambda: drawings.of_prediction(made))
    paper = put(
        print_to,
        lambda: with_drawings(
            predicted_sheet(made), lambda: predicted_json(made), drawings.of_prediction(made)
        ),
    )
    show(
        common,
        lambda: told(paper, noted(drawn, predicted_sheet(made))),
        lambda: told(paper, noted(drawn, predicted_json(made))),
    )
    if not made.axes:
        return NOT_ENOUGH
    return NEEDS_YOU if made.concerns else DONE


def _by_log(
    store: Store,
    aircraft: str,
    log: str,
    columns: Columns,
    flight: str | None,
    loop_rate: float | None,
    *,
    accept: bool,
    common: Common,
) -> Predicted:
    """Predict with the controller that a log shows."""
    from asflown.app.predict_read import baseline, predict_read
    from asflown.faces.cli.behaviour_read import read_file_of

    base = baseline(store, aircraft, flight)
    read = read_file_of(log, columns, loop_rate=loop_rate, accept=accept, common=common)
    return predict_read(store, base, read)
