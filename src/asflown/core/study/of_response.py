"""Evidence of the answer to a rate command."""

from __future__ import annotations

from collections.abc import Iterator

from asflown.core.behaviour.response.result import AxisResponse, RouteFigures
from asflown.core.behaviour.stick import PLACES
from asflown.core.evidence import Evidence
from asflown.core.flight import Span
from asflown.core.measured import Measured, unmeasured
from asflown.core.study.make import evidence_of
from asflown.core.study.quantities import QUANTITIES

_OF_STEP = ("overshoot", "rise_time")
_NO_STICK = "stick and commanded rate are not both in this log; log both"
_WITHOUT = "the rate response of this axis is not known"


def response_evidence(found: AxisResponse, *, source: str) -> Iterator[Evidence]:
    """Evidence of one axis: the best route's figures, and those of each route that could be gone."""
    span = Span(found.spans[0].start, found.spans[-1].end) if found.spans else None
    base = f"axes.{found.axis}"
    best = _best(found)
    for name in _names():
        number = _figure(found, best, name)
        yield evidence_of(f"{base}.{name}", number, source=source, span=span)
    yield evidence_of(
        f"{base}.bandwidth_as_flown",
        found.as_flown or unmeasured(_reason(found), "Hz"),
        source=source,
        span=span,
    )
    for name in PLACES:
        told = found.stick.get(name) or unmeasured(_NO_STICK, "rad/s")
        yield evidence_of(f"{base}.{name}", told, source=source, span=span)
    for name, value, unit in (
        ("saturated_share", found.saturated_share, "1"),
        ("excited_low", found.excited_low, "Hz"),
        ("excited_high", found.excited_high, "Hz"),
    ):
        yield evidence_of(f"{base}.{name}", _counted(value, unit, found), source=source, span=span)
    for route, figures in found.routes.items():
        place = f"{base}.by_route.{route.replace(' ', '_').replace('-', '_')}"
        for name in _names():
            reached = _of_route(figures, name)
            if reached is not None:
                yield evidence_of(f"{place}.{name}", reached, source=source, span=span)


def _names() -> tuple[str, ...]:
    """The figures that routes lead to, in the order shown."""
    start = "axes.{axis}.by_route.{route}."
    return tuple(one.name.removeprefix(start) for one in QUANTITIES if one.name.startswith(start))


def _best(found: AxisResponse) -> RouteFigures | None:
    """The route the figures were taken from."""
    routes = {number.route for number in found.figures.values()}
    return next((figures for route, figures in found.routes.items() if route in routes), None)


def _figure(found: AxisResponse, best: RouteFigures | None, name: str) -> Measured:
    if name in found.figures:
        return found.figures[name]
    number = None if best is None else _of_route(best, name)
    unit = next(one.unit for one in QUANTITIES if one.name == f"axes.{{axis}}.{name}")
    return number or unmeasured(_reason(found), unit)


def _of_route(figures: RouteFigures, name: str) -> Measured | None:
    if name in _OF_STEP:
        made: Measured | None = getattr(figures, name)
        return made
    return figures.figures.get(name)


def _counted(value: float | None, unit: str, found: AxisResponse) -> Measured:
    if value is None:
        return unmeasured(_reason(found), unit)
    return Measured(value, value, value, unit, "counted")


def _reason(found: AxisResponse) -> str:
    """Why this axis has no more: the reason of its figures."""
    return next((number.reason for number in found.figures.values() if number.reason), _WITHOUT)
