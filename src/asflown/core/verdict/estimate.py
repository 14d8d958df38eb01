"""What one flight says of each judged quantity, with its error, by every route."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from asflown.core.evidence import Evidence
from asflown.core.study.kept import FlightEvidence
from asflown.core.verdict.margins import Margin, margin_of

#: Half a 95 % interval over its standard error, for a normal error.
HALF_WIDTH = 1.959963984540054
#: Routes, the better one first, as names of evidence spell them.
ROUTES = ("known_controller", "model_free")


@dataclass(frozen=True, slots=True)
class Estimate:
    """One quantity in one flight: value and ends of the 95 % interval."""

    value: float
    low: float
    high: float

    def error(self, margin: Margin) -> float:
        """Standard error on the margin's scale: the longer half of the interval over 1.96.

        The longer half is the careful choice: equivalence is not called on the short side of a skew one.
        Infinite where an end has no place on the scale (a ratio at zero or below).
        """
        middle, low, high = (margin.of(one) for one in (self.value, self.low, self.high))
        if math.isnan(low) or math.isnan(middle) or math.isnan(high):
            return math.inf
        return max(middle - low, high - middle) / HALF_WIDTH


@dataclass(frozen=True)
class FlightEstimates:
    """What one flight says.

    Attributes
    ----------
    seconds
        Flown, of the stretch that was used.
    routes
        By route, by quantity; quantities that have one way only are under an empty route.
    reasons
        Why a quantity has no number.
    saturated
        By axis, share of rows with a motor at its end, where it is known.
    """

    id: str
    seconds: float
    routes: Mapping[str, Mapping[str, Estimate]]
    reasons: Mapping[str, str] = field(default_factory=dict)
    saturated: Mapping[str, float] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """Every quantity with a number or a reason, once."""
        found: dict[str, None] = {}
        for route in self.routes.values():
            found.update(dict.fromkeys(route))
        return tuple(found | dict.fromkeys(self.reasons))

    def of(self, name: str, route: str) -> Estimate | None:
        """A quantity by a route, or by its only way."""
        return self.routes.get(route, {}).get(name) or self.routes.get("", {}).get(name)


def of_flight(flight: FlightEvidence) -> FlightEstimates:
    """The judged quantities of a flight's evidence."""
    return of_evidence(flight.id, flight.span[1] - flight.span[0], flight.evidence)


def of_evidence(id: str, seconds: float, evidence: Iterable[Evidence]) -> FlightEstimates:
    """The judged quantities among evidence; of axes by each route, of the rest as they are.

    Offsets of motors become shares of the hover command.
    """
    routes: dict[str, dict[str, Estimate]] = {"": {}, **{route: {} for route in ROUTES}}
    reasons: dict[str, str] = {}
    evidence = tuple(evidence)
    hover = next((one for one in evidence if one.quantity == "motors.hover"), None)
    saturated = {
        one.quantity.split(".")[1]: one.value
        for one in evidence
        if one.quantity.startswith("axes.")
        and one.quantity.endswith(".saturated_share")
        and one.value is not None
    }
    for one in evidence:
        name, route = _placed(one.quantity)
        try:
            if margin_of(name) is None:
                continue
        except ValueError:
            continue
        by_route = name.startswith("axes.") and "stick" not in name
        if by_route and not route:
            if one.reason is not None:
                reasons[name] = one.reason
            continue
        if one.value is not None and one.interval is not None:
            routes[route][name] = Estimate(one.value, one.interval.low, one.interval.high)
        elif one.reason is not None and not route:
            reasons[name] = one.reason
    _of_hover(routes[""], reasons, hover)
    return FlightEstimates(id, seconds, routes, reasons, saturated)


def _of_hover(plain: dict[str, Estimate], reasons: dict[str, str], hover: Evidence | None) -> None:
    """Offsets of motors as shares of the hover command: what they say then does not hang on the throttle.

    The hover command's own error is left out: it is a small share of an offset that is small itself.
    """
    for name in [name for name in plain if name.startswith("motors.each.")]:
        one = plain.pop(name)
        if hover is None:
            reasons[name] = "no share of the hover command: the flight has none"
        elif hover.value is None or hover.value <= 0.0:
            why = hover.reason or f"it is {hover.value:g}"
            reasons[name] = f"no share of the hover command: {why}"
        else:
            level = hover.value
            plain[name] = Estimate(one.value / level, one.low / level, one.high / level)


def _placed(name: str) -> tuple[str, str]:
    parts = name.split(".")
    if len(parts) == 5 and parts[2] == "by_route":
        return f"{parts[0]}.{parts[1]}.{parts[4]}", parts[3]
    return name, ""


def common_route(
    before: Sequence[FlightEstimates], after: Sequence[FlightEstimates], name: str
) -> str | None:
    """The best route by which every flight has a quantity; ``None`` where there is none.

    Empty for a quantity that has one way only.
    """
    flights = [*before, *after]
    if all(name in flight.routes.get("", {}) for flight in flights):
        return ""
    for route in ROUTES:
        if all(flight.of(name, route) is not None for flight in flights):
            return route
    return None
