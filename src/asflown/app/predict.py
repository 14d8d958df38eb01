"""How an aircraft will answer with other settings: from its baseline flight, before anything is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asflown.app import kept
from asflown.app.needs import Store
from asflown.core.signals import AXES
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.flights.known import Declared
    from asflown.core.behaviour.declared import KnownController
    from asflown.core.behaviour.predict.concern import Concern
    from asflown.core.behaviour.predict.controls import Controls
    from asflown.core.behaviour.predict.result import Prediction
    from asflown.core.identified import Identified
    from asflown.core.plan import Plan
    from asflown.core.refit import Refit
    from asflown.core.study.kept import FlightEvidence

_NO_FLIGHT = "no flight of {aircraft} is kept: without a baseline flight nothing is predicted"
_MEASURE = "fly, and measure it: asflown flight measure LOG --aircraft {aircraft}"
_OLD = "{flight} was measured by an older asflown that kept no plant; measure its log again"
_NOT_IDENTIFIED = "the plant of {axis} could not be told from {flight}"
_NO_SCALE = (
    "the drive that {flight} logged was not held against a declared controller, so nobody knows its scale;"
    " declare the old release's control structure (control.toml) and measure the flight again"
)


@dataclass(frozen=True)
class Predicted:
    """What is predicted of an aircraft.

    Attributes
    ----------
    after
        Record identifier, or the refit whose plan it is, in words.
    axes, reasons
        An axis is in one of them.
    concerns
        What must be looked at before anything is written.
    read_from
        The log that the controller after was read from, ``None`` where settings made it.
    """

    aircraft: str
    flight: FlightEvidence
    before: str
    after: str
    axes: Mapping[str, Prediction]
    reasons: Mapping[str, str]
    concerns: tuple[Concern, ...] = field(default=())
    read_from: str | None = None


def baseline_flight(store: Store, aircraft: str, said: str | None = None) -> FlightEvidence:
    """The flight that predictions start from: the one named, else the newest whose plant is kept.

    Raises
    ------
    UsageError
        When there is none, with what to do.
    """
    from asflown.app.flights.keep import counted_flights, flight_meant

    if said is not None:
        flight = flight_meant(store, said)
        if flight.aircraft != aircraft:
            raise UsageError(
                f"{said} is a flight of {flight.aircraft}", next_step=f"see: asflown flight list {aircraft}"
            )
        if not flight.identified:
            raise UsageError(_OLD.format(flight=said), next_step=_MEASURE.format(aircraft=aircraft))
        return flight
    flights = counted_flights(store, aircraft)
    for flight in reversed(flights):
        if flight.identified:
            return flight
    what = _OLD.format(flight=flights[-1].id) if flights else _NO_FLIGHT.format(aircraft=aircraft)
    raise UsageError(what, next_step=_MEASURE.format(aircraft=aircraft))


def baseline_of(store: Store, refit: Refit, said: str | None = None) -> FlightEvidence:
    """The baseline of a refit: the flight named, else the newest one flown with the settings as found.

    A flight whose settings nobody named counts when it was of the release that the refit starts from.

    Raises
    ------
    UsageError
        When there is none, with what to do.
    """
    from asflown.app.flights.keep import counted_flights

    if said is not None:
        return baseline_flight(store, refit.aircraft, said)
    for flight in reversed(counted_flights(store, refit.aircraft)):
        if flight.identified and is_before(store, flight, refit):
            return flight
    what = f"no baseline flight of {refit.aircraft} with the settings of {refit.found} is kept"
    raise UsageError(what, next_step=_MEASURE.format(aircraft=f"{refit.aircraft} --record {refit.found}"))


def is_before(store: Store, flight: FlightEvidence, refit: Refit) -> bool:
    """Whether a flight was flown with the settings that a refit found: that record, or one just like it."""
    found = refit.source or refit.found
    if flight.record is None:
        return flight.release is not None and flight.release == refit.from_release
    return flight.record == found or _alike(store, flight.record, found)


def _alike(store: Store, one: str, other: str) -> bool:
    """Whether two records of one release hold the same settings."""
    first, second = kept.record(store, one), kept.record(store, other)
    return first.release == second.release and first.values == second.values


def predict_aircraft(
    store: Store, aircraft: str, *, flight: str | None = None, record: str | None = None
) -> Predicted:
    """Predict an aircraft's answer with a record's settings, or with those its open refit plans.

    Parameters
    ----------
    flight
        The baseline; the newest flight whose plant is kept when not given.
    record
        Settings to predict for; the open refit's plan when not given.

    Raises
    ------
    UsageError
        Without an aircraft, a baseline flight, a record or an open refit.
    """
    from asflown.app.flights.known import declared_controllers
    from asflown.app.planned import planned_controllers

    described = kept.aircraft(store, aircraft)
    if record is not None:
        base = baseline_flight(store, described.id, flight)
        found = kept.record(store, record)
        return predicted(store, base, declared_controllers(store, found.aircraft, record=record), record)
    open_one = kept.open_refit(store, described.id)
    if open_one is None:
        raise UsageError(
            f"{aircraft} has no open refit; say which record to predict for",
            next_step=f"asflown predict {aircraft} --record RECORD, or: asflown plan {aircraft} --to RELEASE",
        )
    refit = open_one.refit
    base = baseline_of(store, refit, flight)
    return predicted(store, base, planned_controllers(store, refit), f"the plan of {refit.id}")


def predict_plan(store: Store, refit: Refit, plan: Plan) -> Predicted | None:
    """What a plan would make of the aircraft; ``None`` where nothing can be predicted at all."""
    from asflown.app.planned import planned_controllers

    try:
        base = baseline_of(store, refit)
    except UsageError:
        return None
    made = predicted(store, base, planned_controllers(store, refit, plan), f"the plan of {refit.id}")
    return made if made.axes else None


def predicted(store: Store, base: FlightEvidence, after: Declared, called: str) -> Predicted:
    """Predict every axis that a flight identified, for declared controllers."""
    from asflown.core.behaviour.predict.concern import concern_of
    from asflown.core.behaviour.predict.predict import predict

    sides, reasons = sides_of(store, base, after)
    axes: dict[str, Prediction] = {}
    for axis, (found, was, now) in sides.items():
        try:
            axes[axis] = predict(found, was, now)
        except ValueError as error:
            reasons[axis] = str(error)
    concerns = tuple(one for made in axes.values() if (one := concern_of(made)) is not None)
    before = base.record or "the controller read from the log"
    return Predicted(base.aircraft, base, before, called, axes, reasons, concerns)


def sides_of(
    store: Store, base: FlightEvidence, after: Declared
) -> tuple[dict[str, tuple[Identified, Controls, Controls]], dict[str, str]]:
    """By axis, the plant and both controllers at the flight's scale; and why an axis has none."""
    from asflown.app.flights.known import declared_controllers
    from asflown.core.behaviour.predict.controls import declared_controls

    was = declared_controllers(store, base.aircraft, record=base.record).controllers
    sides: dict[str, tuple[Identified, Controls, Controls]] = {}
    reasons: dict[str, str] = {}
    for axis in AXES:
        found = next((one for one in base.identified if one.axis == axis), None)
        if found is None:
            reasons[axis] = _NOT_IDENTIFIED.format(axis=axis, flight=base.id)
        elif axis not in after.controllers:
            reasons[axis] = after.reasons.get(axis, "the new controller is not known")
        elif found.scale is None:
            reasons[axis] = _NO_SCALE.format(flight=base.id)
        else:
            sides[axis] = (
                found,
                before_of(found, was.get(axis)),
                declared_controls(after.controllers[axis], found.scale),
            )
    return sides, reasons


def before_of(found: Identified, known: KnownController | None) -> Controls:
    """The controller that flew: as declared where the flight bore it out, else as its log showed it.

    Raises
    ------
    ValueError
        Where neither is known.
    """
    from asflown.core.behaviour.predict.controls import Controls, declared_controls

    if known is not None and found.scale is not None:
        return declared_controls(known, found.scale)
    return Controls(fitted=found.controller, loop_rate=found.loop_rate, latency=found.latency)
