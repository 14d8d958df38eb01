"""Measure the answer to the rate command: every axis, by every route the log allows."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.app.flights.bench import Bench
from asflown.app.flights.known_route import known_controllers
from asflown.app.flights.part import Part, not_measured
from asflown.core.evidence import Evidence
from asflown.core.signals import AXES
from asflown.core.study.of_response import response_evidence

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np
    import numpy.typing as npt

    from asflown.core.behaviour.declared import KnownController
    from asflown.core.behaviour.response.axis import Instrument
    from asflown.core.behaviour.response.result import AxisResponse
    from asflown.core.flight import EvenPart
    from asflown.core.measured import Measured

_GROUP = "axes"
_NO_RATES = "commanded and measured rates are not both known in this log; log both at 500 Hz or more"
_NO_PAIR = "commanded and measured {axis} rate are not both known in this log; log both at 500 Hz or more"
_TOO_SLOW = "logged at {rate:.4g} rows a second: too slow for the loop; log at 500 Hz or more"
#: Rows a second below which a response, and below which the loop, cannot be told.
LEAST_FOR_RESPONSE, LEAST_FOR_LOOP = 95.0, 490.0
#: Figures of the loop.
_LOOP = ("crossover", "gain_margin", "phase_margin", "peak_sensitivity")


def response(bench: Bench) -> Part:
    """Handling figures and margins of the three axes."""
    axes = [a for a in AXES if bench.flight.has(f"rate_command.{a}", f"rate.{a}")]
    if not axes:
        return not_measured(_GROUP, _NO_RATES, bench)
    names = bench.names("rate_command", "rate", "control", "motor", "stick", "pack_voltage")
    even = bench.even(names, bench.flying, least=4.0)
    if not even.parts:
        return not_measured(_GROUP, bench.why_none(names, least=4.0), bench)
    from asflown.core.behaviour.response.axis import measure_axes, refused

    if even.rate < LEAST_FOR_RESPONSE:
        return not_measured(_GROUP, _TOO_SLOW.format(rate=even.rate), bench)
    pattern = _pattern(bench, even.parts)
    known, reasons = known_controllers(bench, even.parts, pattern)
    responses = {axis: controller.response for axis, controller in known.items()}
    found = measure_axes(even.parts, pattern, instruments=_instruments(bench, axes), known=responses)
    made = {axis: found.get(axis) or refused(axis, _NO_PAIR.format(axis=axis)) for axis in AXES}
    made = {axis: _flown_with(one, known.get(axis)) for axis, one in made.items()}
    made = {axis: _driven_by(one, pattern) for axis, one in made.items()}
    made = {axis: replace(one, stick=_stick(even.parts, axis)) for axis, one in made.items()}
    if even.rate < LEAST_FOR_LOOP:
        made = {axis: _without_loop(one, even.rate) for axis, one in made.items()}
    evidence: list[Evidence] = []
    for one in made.values():
        evidence += response_evidence(one, source=bench.flight.source)
    told = (
        *even.statements,
        *(f"{a}: {text}" for a, one in made.items() for text in one.statements),
        *reasons,
    )
    return Part(_GROUP, tuple(evidence), tuple(dict.fromkeys(told)), made)


def _flown_with(one: AxisResponse, controller: KnownController | None) -> AxisResponse:
    """The same with what is to be kept of the controller that flew."""
    if one.identified is None or controller is None:
        return one
    identified = replace(
        one.identified, scale=controller.scale, loop_rate=controller.rate_hz, latency=controller.latency
    )
    return replace(one, identified=identified)


def _driven_by(one: AxisResponse, pattern: npt.NDArray[np.float64] | None) -> AxisResponse:
    """The same with the size of the row by which motor commands came to the drive."""
    if one.identified is None or pattern is None:
        return one
    size = float(abs(pattern[AXES.index(one.axis)]).sum())
    return replace(one, identified=replace(one.identified, drive_size=size))


def _stick(parts: Sequence[EvenPart], axis: str) -> dict[str, Measured]:
    """What the stick of an axis commands; empty where it is not logged."""
    import numpy as np

    from asflown.core.behaviour.stick import commanded

    names = f"stick.{axis}", f"rate_command.{axis}"
    if not all(name in part.values for part in parts for name in names):
        return {}
    stick, command = (np.concatenate([part.values[name] for part in parts]) for name in names)
    return commanded(stick, command)


def _pattern(bench: Bench, parts: tuple[EvenPart, ...]) -> npt.NDArray[np.float64] | None:
    """Which motor turns which axis, from the longest stretch."""
    return bench.mixer(max(parts, key=lambda one: one.samples)).matrix


def _instruments(bench: Bench, axes: list[str]) -> dict[str, Instrument]:
    """What each axis may be identified with: the command, the stick, lines of an excitation, or nothing."""
    from asflown.core.behaviour.exogeneity import exogeneity_of
    from asflown.core.behaviour.response.axis import Instrument

    made = {}
    for axis in axes:
        judged = exogeneity_of(bench.flight, axis, spans=bench.flying)
        made[axis] = Instrument(
            signal=f"stick.{axis}" if judged.instrument == "stick" else None,
            lines=judged.lines.frequencies if judged.only_lines else (),
            width=judged.lines.width if judged.only_lines else 0.0,
            refusal=None if judged.instrument is not None else judged.statement,
            statement=None if judged.verdict == "independent" else judged.statement,
        )
    return made


def _without_loop(one: AxisResponse, rate: float) -> AxisResponse:
    """The same without the figures of the loop, which a slow log shows wrongly."""
    from asflown.core.measured import unmeasured

    why = f"logged at {rate:.4g} rows a second; margins need 500 Hz or more"

    def cut(figures: Mapping[str, Measured]) -> dict[str, Measured]:
        return {
            name: unmeasured(why, number.unit, number.route) if name in _LOOP else number
            for name, number in figures.items()
        }

    routes = {
        name: replace(route, figures=cut(route.figures), loop=None) for name, route in one.routes.items()
    }
    return replace(one, figures=cut(one.figures), routes=routes, identified=None)
