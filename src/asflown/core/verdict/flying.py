"""How long to fly, and how often, for a verdict: the judge's own errors, before the flight.

The error of a figure falls with the time flown, ``SE² = c² / T + floor²``: the constant comes from the
baseline itself, the floor is what no length takes away. The baseline is flown and fixed. Flights scatter
besides: then more flights help, a longer one does not.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from asflown.core.verdict.estimate import FlightEstimates, common_route
from asflown.core.verdict.margins import DEFAULTS, Margin, Weight, margin_of
from asflown.core.verdict.scatter import PRIOR_DOF, Scatter, scatter_of
from asflown.core.verdict.sides import mean_of, numbers_of
from asflown.core.verdict.tost import power, power_beyond, welch

#: Chance that the planned flying suffices.
WANTED = 0.9
#: Flights and seconds looked at.
MOST_FLIGHTS, SHORTEST, LONGEST, STEP = 8, 20, 240, 10
#: What a further flight costs beside its length, s: landing, noting, taking off.
BETWEEN = 60.0
#: Standard error that no length takes away, of a quantity by a route.
Floor = Callable[[str, str], float]


@dataclass(frozen=True, slots=True)
class Need:
    """What one quantity asks for.

    Attributes
    ----------
    flights, seconds
        The least flying that gives the power wanted; ``None``: no flying does.
    power
        With that flying, at the difference assumed.
    alone
        Power that the longest single flight would give.
    beyond
        Power to call a difference of twice the margin different, with that flying.
    reason
        Why no flying suffices.
    """

    quantity: str
    flights: int | None
    seconds: int | None
    power: float
    alone: float
    beyond: float
    reason: str | None = None


@dataclass(frozen=True)
class FlyingPlan:
    """What to fly for every quantity that is needed.

    Attributes
    ----------
    flights, seconds
        For all of them that can be told by flying.
    never
        What no flying can tell.
    assumed
        True difference that is allowed for, as a share of each margin.
    """

    flights: int
    seconds: int
    needs: tuple[Need, ...]
    assumed: float
    missing: tuple[str, ...] = ()

    @property
    def never(self) -> tuple[Need, ...]:
        """What no flying after the baseline can tell."""
        return tuple(need for need in self.needs if need.flights is None)

    @property
    def ruling(self) -> Need | None:
        """The quantity that asks for most."""
        told = [need for need in self.needs if need.flights is not None and need.seconds is not None]
        return max(told, key=lambda need: (need.flights or 0, need.seconds or 0), default=None)


@dataclass(frozen=True)
class _Side:
    """What the baseline fixes of one quantity.

    Attributes
    ----------
    before
        Variance of measuring, and of scatter, in the baseline's mean.
    each
        ``c²`` and ``floor²`` of one flight after.
    """

    margin: Margin
    scatter: Scatter
    before: tuple[float, float]
    each: tuple[float, float]

    def errors(self, flights: int, seconds: float) -> tuple[float, float]:
        """Standard error of the difference, and its degrees of freedom."""
        measuring = self.before[0] + (self.each[0] / seconds + self.each[1]) / flights
        between = self.before[1] + self.scatter.value**2 / flights
        return math.sqrt(measuring + between), welch([(measuring, math.inf), (between, self.scatter.dof)])

    def power(self, flights: int, seconds: float, assumed: float) -> float:
        """Of calling it as before, the worse of a difference up and down."""
        error, dof = self.errors(flights, seconds)
        low, high = self.margin.low, self.margin.high
        return min(power(assumed * end, error, dof, low, high) for end in (low, high))


def plan_flying(
    before: Sequence[FlightEstimates],
    margins: tuple[Margin, ...] = DEFAULTS,
    *,
    assumed: float = 0.0,
    scatter: float | None = None,
    floor: Floor | None = None,
    wanted: float = WANTED,
) -> FlyingPlan:
    """Plan the flying after a refit.

    Parameters
    ----------
    before
        The baseline's flights.
    assumed
        True difference to allow for, as a share (0 to 1) of each margin.
    scatter
        As :func:`asflown.core.verdict.judge.judge` takes it.
    floor
        Standard error that no length takes away, on the margin's scale, of a quantity by a route.
    wanted
        Power, 0 to 1.

    Raises
    ------
    ValueError
        Without a baseline flight.
    """
    if not before:
        raise ValueError("a plan of flying takes a baseline flight")
    needs: list[Need] = []
    missing: list[str] = []
    for name in _needed(before, margins):
        side = _side(name, before, margins, scatter, floor)
        if side is None:
            missing.append(name)
            continue
        needs.append(_need(name, side, assumed, wanted))
    flights, seconds = _together(needs, before, margins, scatter, floor, assumed, wanted)
    return FlyingPlan(flights, seconds, tuple(needs), assumed, tuple(missing))


def _needed(before: Sequence[FlightEstimates], margins: tuple[Margin, ...]) -> list[str]:
    """Names that a verdict needs, as far as the baseline knows of them."""
    found: dict[str, None] = {}
    for flight in before:
        for route in flight.routes.values():
            found.update(dict.fromkeys(route))
        found.update(dict.fromkeys(flight.reasons))
    made = []
    for name in found:
        margin = margin_of(name, margins)
        measured = common_route(before, before, name) is not None
        if margin is None or margin.weight is Weight.WATCHED:
            continue
        if margin.weight is Weight.REQUIRED or measured:
            made.append(name)
    return made


def _side(
    name: str,
    before: Sequence[FlightEstimates],
    margins: tuple[Margin, ...],
    scatter: float | None,
    floor: Floor | None,
) -> _Side | None:
    margin = margin_of(name, margins)
    route = common_route(before, before, name)
    if margin is None or route is None:
        return None
    numbers = numbers_of(name, route, before, margin)
    if any(not math.isfinite(x) for pair in numbers for x in pair):
        return None
    known = (
        scatter_of(margin.scatter, [numbers], prior_dof=PRIOR_DOF)
        if scatter is None
        else scatter_of(margin.scatter * scatter, (), prior_dof=math.inf)
    )
    _, measuring, between = mean_of(numbers, known.value)
    least = 0.0 if floor is None else floor(name, route)
    constants = [
        max(error**2 - least**2, 0.0) * flight.seconds
        for (_, error), flight in zip(numbers, before, strict=True)
    ]
    return _Side(margin, known, (measuring, between), (sum(constants) / len(constants), least**2))


def _need(name: str, side: _Side, assumed: float, wanted: float) -> Need:
    alone = side.power(1, LONGEST, assumed)
    best: tuple[float, int, int] | None = None
    for flights in range(1, MOST_FLIGHTS + 1):
        for seconds in range(SHORTEST, LONGEST + 1, STEP):
            if side.power(flights, seconds, assumed) >= wanted:
                cost = flights * (seconds + BETWEEN)
                best = min(best or (cost, flights, seconds), (cost, flights, seconds))
                break
    if best is None:
        return Need(name, None, None, side.power(MOST_FLIGHTS, LONGEST, assumed), alone, 0.0, _never(side))
    _, flights, seconds = best
    error, dof = side.errors(flights, seconds)
    beyond = power_beyond(2.0 * side.margin.high, error, dof, side.margin.low, side.margin.high)
    return Need(name, flights, seconds, side.power(flights, seconds, assumed), alone, beyond)


def _never(side: _Side) -> str:
    """What stands in the way, however long one flies after."""
    measuring, between = side.before
    if measuring >= between:
        return "the baseline alone is too uncertain: fly a longer one, or a second, on the old settings"
    return "the baseline's flights are too few to tell the scatter: fly more of them on the old settings"


def _together(
    needs: Sequence[Need],
    before: Sequence[FlightEstimates],
    margins: tuple[Margin, ...],
    scatter: float | None,
    floor: Floor | None,
    assumed: float,
    wanted: float,
) -> tuple[int, int]:
    """The least flying with which all of them together are told; 0, 0 where none can be.

    All must pass: the chances of missing one each are added (union bound), whatever ties them together.
    """
    sides = [
        side
        for need in needs
        if need.flights is not None and (side := _side(need.quantity, before, margins, scatter, floor))
    ]
    if not sides:
        return 0, 0
    best: tuple[float, int, int] | None = None
    for flights in range(1, MOST_FLIGHTS + 1):
        for seconds in range(SHORTEST, LONGEST + 1, STEP):
            missed = 0.0
            for side in sides:
                missed += 1.0 - side.power(flights, seconds, assumed)
                if missed > 1.0 - wanted:
                    break
            else:
                cost = flights * (seconds + BETWEEN)
                best = min(best or (cost, flights, seconds), (cost, flights, seconds))
                break
    return (MOST_FLIGHTS, LONGEST) if best is None else (best[1], best[2])
