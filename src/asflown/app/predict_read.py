"""How an aircraft will answer with a controller read out of a log, where nothing need be declared."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.app import kept
from asflown.app.needs import Store
from asflown.app.predict import Predicted, baseline_flight, baseline_of, before_of
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.app.read_controller import ReadLog
    from asflown.core.behaviour.declared import KnownController
    from asflown.core.behaviour.predict.controls import Controls
    from asflown.core.behaviour.predict.result import Prediction
    from asflown.core.identified import Identified
    from asflown.core.study.kept import FlightEvidence

_NOT_IDENTIFIED = "the plant of {axis} could not be told from {flight}"
_NO_SIZE = (
    "{flight} kept no scale between the motors' commands and its drive: measure its log again with asflown"
    " flight measure, every motor's command logged"
)
_NO_SCALE = (
    "{log} does not tell the scale between the output and the motors: log the commands of all four motors on"
    " the bench, beside the output or in its place"
)
_NEITHER = "the controller that flew in {flight} is neither declared nor told by its log"


def baseline(store: Store, aircraft: str, said: str | None = None) -> FlightEvidence:
    """The flight that is predicted from: the one named, of the open refit, else the newest one kept.

    Raises
    ------
    UsageError
        Without an aircraft or a baseline flight.
    """
    described = kept.aircraft(store, aircraft)
    open_one = None if said is not None else kept.open_refit(store, described.id)
    if open_one is None:
        return baseline_flight(store, described.id, said)
    return baseline_of(store, open_one.refit)


def predict_read(store: Store, base: FlightEvidence, read: ReadLog) -> Predicted:
    """Predict an aircraft's answer, from a baseline flight, with the controllers read from a log."""
    from asflown.app.flights.known import declared_controllers
    from asflown.core.behaviour.predict.concern import concern_of
    from asflown.core.behaviour.predict.predict import predict

    was = declared_controllers(store, base.aircraft, record=base.record).controllers
    axes: dict[str, Prediction] = {}
    reasons: dict[str, str] = {}
    for axis in AXES:
        try:
            found, before, after = _sides(axis, base, read, was.get(axis))
            axes[axis] = predict(found, before, after)
        except ValueError as error:
            reasons[axis] = str(error)
    concerns = tuple(one for made in axes.values() if (one := concern_of(made)) is not None)
    before_called = base.record or f"the controller read from the log of {base.id}"
    after_called = f"the controller read from {read.name}"
    return Predicted(base.aircraft, base, before_called, after_called, axes, reasons, concerns, read.name)


def _sides(
    axis: str, base: FlightEvidence, read: ReadLog, known: KnownController | None
) -> tuple[Identified, Controls, Controls]:
    """Plant and both controllers at the flight's scale.

    Raises
    ------
    ValueError
        Saying what is missing.
    """
    from asflown.core.behaviour.predict.controls import read_controls

    found = next((one for one in base.identified if one.axis == axis), None)
    if found is None:
        raise ValueError(_NOT_IDENTIFIED.format(axis=axis, flight=base.id))
    if axis not in read.axes:
        raise ValueError(read.reasons.get(axis, "the log does not show this axis"))
    if found.drive_size is None:
        raise ValueError(_NO_SIZE.format(flight=base.id))
    if axis not in read.sizes:
        raise ValueError(_NO_SCALE.format(log=read.name))
    if found.controller is None and (known is None or found.scale is None):
        raise ValueError(_NEITHER.format(flight=base.id))
    after = read_controls(read.axes[axis], found.drive_size / read.sizes[axis])
    return found, before_of(found, known), after
