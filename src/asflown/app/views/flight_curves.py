"""Frequency responses and steps behind the figures, as JSON: arrays of equal length."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from asflown.core.behaviour.response.result import AxisResponse, Curve, RouteFigures, StepBand

#: Figures a number is written with.
_FIGURES = 6


def curves_json(found: Mapping[str, AxisResponse] | None) -> dict[str, Any]:
    """By axis and route: response, loop and step; ``as_flown`` straight from the spectra."""
    return {axis: _axis(of) for axis, of in (found or {}).items()}


def _axis(of: AxisResponse) -> dict[str, Any]:
    made = {route.replace(" ", "_").replace("-", "_"): _route(one) for route, one in of.routes.items()}
    if of.measured_response is not None:
        made["as_flown"] = {"response": _curve(of.measured_response)}
    return made


def _route(one: RouteFigures) -> dict[str, Any]:
    return {
        "response": None if one.response is None else _curve(one.response),
        "loop": None if one.loop is None else _curve(one.loop),
        "step": None if one.step is None else _step(one.step),
    }


def _curve(curve: Curve) -> dict[str, Any]:
    return {
        "frequency": _numbers(curve.frequencies),
        "gain": _numbers(curve.gain),
        "gain_low": _numbers(curve.gain_low),
        "gain_high": _numbers(curve.gain_high),
        "phase": _numbers(curve.phase),
        "phase_low": _numbers(curve.phase_low),
        "phase_high": _numbers(curve.phase_high),
        "excited": [bool(one) for one in curve.excited],
    }


def _step(step: StepBand) -> dict[str, Any]:
    return {
        "time": _numbers(step.time),
        "answer": _numbers(step.answer),
        "low": _numbers(step.low),
        "high": _numbers(step.high),
    }


def _numbers(values: Iterable[float]) -> list[float | None]:
    return [float(f"{value:.{_FIGURES}g}") if math.isfinite(value) else None for value in values]
