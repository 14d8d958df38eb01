"""What further flights after the refit would bring: the judge's own errors, before they are flown.

The error of a figure falls with the time flown, ``SE² = c² / T + floor²``: the constant comes from flights
already flown, the floor is what no length takes away. What is flown is fixed. Flights scatter besides: then
more flights help, a longer one does not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.verdict.estimate import FlightEstimates
from asflown.core.verdict.margins import Margin
from asflown.core.verdict.power import powers, powers_beyond
from asflown.core.verdict.scatter import Scatter
from asflown.core.verdict.sides import LEAST, Number
from asflown.core.verdict.tost import LEVEL

Float = npt.NDArray[np.float64]

#: Chance that the planned flying suffices.
WANTED = 0.9
#: Flights and seconds looked at.
MOST_FLIGHTS, SHORTEST, LONGEST, STEP = 8, 20, 240, 10
#: What a further flight costs beside its length, s: landing, noting, taking off.
BETWEEN = 60.0
FLIGHTS = np.arange(1, MOST_FLIGHTS + 1, dtype=float)[:, None]
SECONDS = np.arange(SHORTEST, LONGEST + 1, STEP, dtype=float)[None, :]


@dataclass(frozen=True, slots=True)
class More:
    """Flights of so many seconds each."""

    flights: int
    seconds: int


@dataclass(frozen=True, slots=True)
class Ahead:
    """One quantity: what is flown, and what a further flight after the refit brings.

    Attributes
    ----------
    before
        Variance of measuring, and of scatter, in the mean before.
    each
        ``c²`` and ``floor²`` of one further flight.
    after
        As before, in the mean of what is flown after already; ``None``: nothing is.
    """

    margin: Margin
    scatter: Scatter
    before: tuple[float, float]
    each: tuple[float, float]
    after: tuple[float, float] | None = None

    def errors(self) -> tuple[Float, Float]:
        """Standard error of the difference and its degrees of freedom, (flights, seconds) looked at."""
        measuring = np.broadcast_to(self.each[0] / SECONDS + self.each[1], (MOST_FLIGHTS, SECONDS.size))
        between = self.scatter.value**2
        if self.after is None:
            own, moved = measuring / FLIGHTS, between / FLIGHTS
        else:
            one, further = 1.0 / max(sum(self.after), LEAST), 1.0 / np.maximum(measuring + between, LEAST)
            total = (one + FLIGHTS * further) ** 2
            own = (one**2 * self.after[0] + FLIGHTS * further**2 * measuring) / total
            moved = (one**2 * self.after[1] + FLIGHTS * further**2 * between) / total
        scattering = self.before[1] + moved
        variance = self.before[0] + own + scattering
        with np.errstate(divide="ignore", invalid="ignore"):
            # Welch & Satterthwaite: what is measured has endless degrees of freedom
            dof = np.where(scattering > 0.0, self.scatter.dof * variance**2 / scattering**2, math.inf)
        return np.sqrt(variance), np.broadcast_to(dof, variance.shape)

    def powers(self, assumed: float) -> Float:
        """Of calling it as before: the worse of a difference up and down by a share of the margin."""
        error, dof = self.errors()
        low, high = self.margin.low, self.margin.high
        up, down = (powers(assumed * end, error, dof, low, high) for end in (low, high))
        return np.minimum(up, down)

    def settling(self, difference: float, level: float = LEVEL) -> Float:
        """Power of telling either, for a true difference: as before within the margin, different beyond it.

        ``level`` is that of calling it different.
        """
        error, dof = self.errors()
        low, high = self.margin.low, self.margin.high
        if low < difference < high:
            return powers(difference, error, dof, low, high)
        return powers_beyond(difference, error, dof, low, high, level)


def least(told: npt.NDArray[np.bool_]) -> More | None:
    """The cheapest of the flying looked at that is good enough; ``None`` where none is."""
    cost = np.where(told, FLIGHTS * (SECONDS + BETWEEN), math.inf)
    place = np.unravel_index(int(np.argmin(cost)), cost.shape)
    if not told[place]:
        return None
    return More(int(FLIGHTS[place[0], 0]), int(SECONDS[0, place[1]]))


def at(grid: Float, flying: More) -> float:
    """A number of what was looked at."""
    return float(grid[flying.flights - 1, (flying.seconds - SHORTEST) // STEP])


def each_of(numbers: Sequence[Number], flights: Sequence[FlightEstimates]) -> tuple[float, float]:
    """``c²`` and ``floor²`` of a further flight, from the errors and lengths of those flown."""
    constants = [
        max(one.error**2 - one.floor**2, 0.0) * flight.seconds
        for one, flight in zip(numbers, flights, strict=True)
    ]
    return sum(constants) / len(constants), sum(one.floor**2 for one in numbers) / len(numbers)
