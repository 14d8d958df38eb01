"""Curves of a flight whose evidence is kept: computed again from the plant and controller that were fitted.

The log's own samples are not in the evidence, so spectra, the Campbell diagram and the pack's course are not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.needs import Store
from asflown.core.measured import Measured, unmeasured
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.core.behaviour.predict.controls import Controls
    from asflown.core.behaviour.response.result import AxisResponse
    from asflown.core.evidence import Evidence
    from asflown.core.identified import Identified
    from asflown.core.study.kept import FlightEvidence

_NO_PLANT = "its plant was not kept"
_NO_CONTROLLER = "neither its log nor a declared structure shows the controller that flew"
_UNSTABLE = "the loop of the fitted plant and controller does not hold"


@dataclass(frozen=True)
class Redrawn:
    """What can be drawn of a kept flight.

    Attributes
    ----------
    axes
        By axis: one route's curves, with the figures that the evidence has.
    reasons
        By axis, why there are no curves.
    hover, offsets
        Mean motor command, and each motor less it; no offsets where none is kept.
    """

    flight: FlightEvidence
    axes: Mapping[str, AxisResponse]
    reasons: Mapping[str, str]
    hover: Measured
    offsets: tuple[Measured, ...]


def redrawn(store: Store, flight: FlightEvidence) -> Redrawn:
    """Compute what can be drawn of a kept flight."""
    axes: dict[str, AxisResponse] = {}
    reasons: dict[str, str] = {}
    known = {one.axis: one for one in flight.identified}
    for axis in AXES:
        if axis not in known:
            reasons[axis] = _NO_PLANT
            continue
        controls = _controls(store, flight, known[axis])
        made = None if controls is None else _axis(flight, known[axis], controls)
        if made is None:
            reasons[axis] = _NO_CONTROLLER if controls is None else _UNSTABLE
        else:
            axes[axis] = made
    hover, offsets = _motors(flight.evidence)
    return Redrawn(flight, axes, reasons, hover, offsets)


def _controls(store: Store, flight: FlightEvidence, found: Identified) -> Controls | None:
    """The controller that flew: as its record declares it, else as the log showed it."""
    from asflown.app.flights.known import declared_controllers
    from asflown.app.predict import before_of

    declared = None
    if flight.record is not None and found.scale is not None:
        declared = declared_controllers(store, flight.aircraft, record=flight.record)
    try:
        return before_of(found, None if declared is None else declared.controllers.get(found.axis))
    except ValueError:
        return None


def _axis(flight: FlightEvidence, found: Identified, controls: Controls) -> AxisResponse | None:
    from asflown.core.behaviour.predict.predict import predict
    from asflown.core.behaviour.response.result import UNITS, AxisResponse, RouteFigures

    try:
        answer = predict(found, controls, controls).before
    except ValueError:
        return None
    if answer.response is None:
        return None
    route = controls.route
    place = f"axes.{found.axis}.by_route.{route.replace(' ', '_').replace('-', '_')}"
    named = {one.quantity: one for one in flight.evidence}
    figures = {name: measured_of(named.get(f"{place}.{name}"), unit) for name, unit in UNITS.items()}
    curves = RouteFigures(
        route,
        figures,
        answer.response,
        answer.loop,
        answer.step,
        measured_of(named.get(f"{place}.overshoot"), "1"),
        measured_of(named.get(f"{place}.rise_time"), "s"),
    )
    return AxisResponse(
        found.axis,
        figures,
        {route: curves},
        excited_low=found.excited_low,
        excited_high=found.excited_high,
    )


def _motors(evidence: Sequence[Evidence]) -> tuple[Measured, tuple[Measured, ...]]:
    """Mean command in hover, and offsets of the motors in their order."""
    named = {one.quantity: one for one in evidence}
    offsets: list[Measured] = []
    while (one := named.get(f"motors.each.{len(offsets) + 1}.offset")) is not None:
        offsets.append(measured_of(one, "1"))
    return measured_of(named.get("motors.hover"), "1"), tuple(offsets)


def measured_of(one: Evidence | None, unit: str) -> Measured:
    """A number of the evidence as the computing packages had it."""
    if one is None or one.value is None or one.interval is None:
        return unmeasured(
            "it is not among the evidence" if one is None or not one.reason else one.reason, unit
        )
    return Measured(one.value, one.interval.low, one.interval.high, one.unit, one.route)
