"""How long to fly, and how often, for a verdict: the judge's own errors, before the flight."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asflown.core.signals import AXES
from asflown.core.study.quantities import quantity
from asflown.core.verdict.ahead import LONGEST, MOST_FLIGHTS, WANTED, Ahead, More, at, each_of, least
from asflown.core.verdict.estimate import FlightEstimates, common_route
from asflown.core.verdict.margins import DEFAULTS, Margin, Weight, margin_of, required
from asflown.core.verdict.power import power_beyond
from asflown.core.verdict.scatter import PRIOR_DOF, scatter_of
from asflown.core.verdict.sides import mean_of, numbers_of, shared

Float = npt.NDArray[np.float64]
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


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
        For all of them that can be told by flying; 0: none can.
    never
        What no flying can tell.
    assumed
        True difference that is allowed for, as a share of each margin.
    missing
        What is needed and the baseline lacks.
    power
        That all of those that can be told are told together, at least.
    alone
        The same with the longest single flight.
    wanted
        What ``power`` was to reach; it does not where even the most flying looked at is too little.
    """

    flights: int
    seconds: int
    needs: tuple[Need, ...]
    assumed: float
    missing: tuple[str, ...] = ()
    power: float = 0.0
    alone: float = 0.0
    wanted: float = WANTED

    @property
    def never(self) -> tuple[Need, ...]:
        """What no flying after the baseline can tell."""
        return tuple(need for need in self.needs if need.flights is None)

    @property
    def ruling(self) -> Need | None:
        """The quantity that asks for most."""
        told = [need for need in self.needs if need.flights is not None and need.seconds is not None]
        return max(told, key=lambda need: (need.flights or 0, need.seconds or 0), default=None)

    @property
    def says(self) -> str:
        """What to fly, in words."""
        parts = [self.flying] if self.flights else []
        if self.never:
            names = _listed([need.quantity for need in self.never])
            parts.append(f"never by flying after: {names} ({self.never[0].reason})")
        if self.missing:
            parts.append(f"not in the baseline, so no flying after helps: {_listed(self.missing)}")
        return "; ".join(parts) or "nothing is judged, so nothing is to be flown"

    @property
    def flying(self) -> str:
        """What to fly, in words, where any flying tells something."""
        if self.flights == 1:
            text = f"fly one flight of {self.seconds} s"
        else:
            text = f"fly {_COUNTS[self.flights]} flights of {self.seconds} s"
            text += ", not one longer" if self.alone < self.wanted else ""
        if self.power < self.wanted:
            text += f", the most looked at: all together are told in {self.power:.0%} or more only"
        return text.replace("%", " %")


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(quantity(name).titled(name) for name in names[:3])
    return f"{shown} and {len(names) - 3} more" if len(names) > 3 else shown


def plan_flying(
    before: Sequence[FlightEstimates],
    margins: tuple[Margin, ...] = DEFAULTS,
    *,
    assumed: float = 0.0,
    scatter: float | None = None,
    wanted: float = WANTED,
    axes: Sequence[str] = AXES,
) -> FlyingPlan:
    """Plan the flying after a refit.

    All quantities must pass together, so the chances of missing one each are added (union bound), whatever
    ties them together.

    Parameters
    ----------
    before
        The baseline's flights.
    assumed
        True difference to allow for, as a share (0 to 1) of each margin.
    scatter
        As :func:`asflown.core.verdict.judge.judge` takes it.
    wanted
        Power, 0 to 1: of each quantity, and of all together.
    axes
        That a verdict is wanted of.

    Raises
    ------
    ValueError
        Without a baseline flight.
    """
    if not before:
        raise ValueError("a plan of flying takes a baseline flight")
    needs: list[Need] = []
    missing: list[str] = []
    missed: Float = np.zeros(())
    for name in _needed(before, margins, axes):
        ahead = _ahead(name, before, margins, scatter)
        if ahead is None:
            missing.append(name)
            continue
        grid = ahead.powers(assumed)
        needs.append(_need(name, ahead, grid, assumed, wanted))
        if needs[-1].flights is not None:
            missed = missed + (1.0 - grid)
    if not missed.shape:
        return FlyingPlan(0, 0, tuple(needs), assumed, tuple(missing), wanted=wanted)
    together = np.maximum(1.0 - missed, 0.0)
    flown = least(together >= wanted) or More(MOST_FLIGHTS, LONGEST)
    return FlyingPlan(
        flown.flights,
        flown.seconds,
        tuple(needs),
        assumed,
        tuple(missing),
        at(together, flown),
        at(together, More(1, LONGEST)),
        wanted,
    )


def _needed(before: Sequence[FlightEstimates], margins: tuple[Margin, ...], axes: Sequence[str]) -> list[str]:
    """Names that a verdict needs: those required, and those that the baseline knows of."""
    found = dict.fromkeys(required(margins, axes))
    for flight in before:
        found.update(dict.fromkeys(flight.names))
    made = []
    for name in found:
        margin = margin_of(name, margins)
        measured = common_route(before, before, name) is not None
        if margin is None or margin.weight is Weight.WATCHED:
            continue
        if margin.weight is Weight.REQUIRED or measured:
            made.append(name)
    return made


def _ahead(
    name: str,
    before: Sequence[FlightEstimates],
    margins: tuple[Margin, ...],
    scatter: float | None,
) -> Ahead | None:
    margin = margin_of(name, margins)
    route = common_route(before, before, name)
    if margin is None or route is None:
        return None
    # the flights after are taken to be as saturated as those before: the errors are the judge's
    numbers = numbers_of(name, route, before, margin, shared(name, before, ()))
    if any(not (math.isfinite(one.value) and math.isfinite(one.error)) for one in numbers):
        return None
    known = (
        scatter_of(margin.scatter, [numbers], prior_dof=PRIOR_DOF)
        if scatter is None
        else scatter_of(margin.scatter * scatter, (), prior_dof=math.inf)
    )
    _, measuring, between = mean_of(numbers, known.value)
    each = each_of(numbers, before)
    return Ahead(margin, known, (measuring, between), each)


def _need(name: str, ahead: Ahead, grid: Float, assumed: float, wanted: float) -> Need:
    alone = at(grid, More(1, LONGEST))
    found = least(grid >= wanted)
    if found is None:
        return Need(name, None, None, float(grid[-1, -1]), alone, 0.0, _never(ahead, grid, assumed, wanted))
    error, dof = (at(one, found) for one in ahead.errors())
    low, high = ahead.margin.low, ahead.margin.high
    beyond = power_beyond(2.0 * high, error, dof, low, high)
    return Need(name, found.flights, found.seconds, at(grid, found), alone, beyond)


def _never(ahead: Ahead, grid: Float, assumed: float, wanted: float) -> str:
    """What stands in the way: that without which the most flying looked at would do, or help most."""
    share = f"{assumed:.0%}".replace("%", " %")
    calm = replace(ahead.scatter, value=0.0)
    without = {
        "the baseline alone is too uncertain: fly a longer one, or a second, on the old settings": replace(
            ahead, before=(0.0, ahead.before[1])
        ).powers(assumed),
        "the scatter between flights is too large, or told from too few: fly more of them on the old"
        " settings": replace(ahead, scatter=calm, before=(ahead.before[0], 0.0)).powers(assumed),
        f"the difference assumed, {share} of the margin, leaves too little room: assume less": ahead.powers(
            0.0
        ),
        "a flight's own error does not fall far enough with its length": replace(
            ahead, each=(ahead.each[0], 0.0)
        ).powers(assumed),
    }
    most = {reason: float(powers[-1, -1]) for reason, powers in without.items()}
    enough = [reason for reason, reached in most.items() if reached >= wanted]
    helps = [reason for reason, reached in most.items() if reached > float(grid[-1, -1]) + 0.01]
    both = "; and ".join(helps) or "everything together: the baseline, the scatter and the difference assumed"
    said = "; or ".join(enough) if enough else both
    return f"{said} (up to {MOST_FLIGHTS} flights of {LONGEST} s were looked at)"
