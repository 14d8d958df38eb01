"""``asflown predict``: how an aircraft would fly with other settings."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def predict(
    aircraft: str | None = None,
    /,
    *,
    flight: str | None = None,
    record: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Predict how the aircraft answers with the open refit's plan, or with a record's settings.

    From a baseline flight that was kept and the control structures that both releases declare: response,
    margins, step and noise before and after, with 95 % intervals. Nothing is touched. Exit code 0 when it
    holds, 2 when an axis would be unstable or close to it, 3 when no axis can be predicted.

    Example: asflown predict plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    flight
        The baseline flight (default: the newest one kept).
    record
        Predict for this record's settings in place of the plan's.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app import kept
    from asflown.app.predict import predict_aircraft
    from asflown.app.views.predict_shown import predicted_json, predicted_sheet
    from asflown.faces.cli.session import DONE, NEEDS_YOU, NOT_ENOUGH, show, work_in

    store = work_in(common).store
    made = predict_aircraft(store, kept.aircraft_meant(store, aircraft), flight=flight, record=record)
    show(common, lambda: predicted_sheet(made), lambda: predicted_json(made))
    if not made.axes:
        return NOT_ENOUGH
    return NEEDS_YOU if made.concerns else DONE
