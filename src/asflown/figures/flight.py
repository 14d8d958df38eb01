"""Every figure of a measured flight, described from what the computing packages returned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from asflown.core.behaviour.response.result import AxisResponse
from asflown.core.flight import Flight
from asflown.core.measured import Measured
from asflown.figures.figure import Figure
from asflown.figures.flight_motors import balance_figure
from asflown.figures.flight_power import load_figure, open_circuit_figure
from asflown.figures.flight_response import as_flown_figures, response_figures
from asflown.figures.flight_vibration import campbell_figure, spectrum_figure


def flight_figures(results: Mapping[str, Any], flight: Flight) -> tuple[Figure, ...]:
    """The figures of a flight, in the order of its sheet.

    Parameters
    ----------
    results
        By part, as :class:`asflown.app.flights.measure.Measurement` holds them: ``axes``, ``vibration``,
        ``motors``, ``power``; parts that are not there have no figure.
    """
    return tuple(_all(results, flight, (flight.source,)))


def kept_figures(
    axes: Mapping[str, AxisResponse],
    hover: Measured,
    offsets: Sequence[Measured],
    evidence: tuple[str, ...] = (),
) -> tuple[Figure, ...]:
    """The figures of a flight whose evidence is kept: answers by axis, and the balance of the motors."""
    made = [
        figure
        for of in axes.values()
        for route in of.routes
        for figure in response_figures(of, route, evidence)
    ]
    balance = balance_figure(hover, offsets, evidence)
    return tuple(made) if balance is None else (*made, balance)


def _all(results: Mapping[str, Any], flight: Flight, evidence: tuple[str, ...]) -> Iterator[Figure]:
    for of in results.get("axes", {}).values():
        for route in of.routes:
            yield from response_figures(of, route, evidence)
        if not of.routes:
            yield from as_flown_figures(of, evidence)
    if (found := results.get("vibration")) is not None:
        yield from (campbell_figure(one, evidence) for one in found.campbell)
        yield from (spectrum_figure(one, found, evidence) for one in found.spectra.values())
    if (motors := results.get("motors")) is not None:
        balance = balance_figure(motors.balance.mean, motors.balance.offsets, evidence)
        yield from () if balance is None else (balance,)
    if (power := results.get("power")) is not None:
        yield from _of_power(power.pack, flight, evidence)


def _of_power(pack: Any, flight: Flight, evidence: tuple[str, ...]) -> Iterator[Figure]:
    voltage, current = (flight.traces.get(name) for name in ("pack_voltage", "pack_current"))
    if voltage is not None and current is not None and voltage.time is current.time:
        load = load_figure(voltage.values, current.values, pack, evidence)
        yield from () if load is None else (load,)
    course = open_circuit_figure(pack, evidence)
    yield from () if course is None else (course,)
