"""From the spread of drawn loops to intervals that cover as often as they say.

The spread holds what the data's noise does to the estimate. What real airframes and controllers do beyond the
models (bent thrust, a flexing frame, unequal motors, unsteady noise) is not in it. Both were counted on
simulated flights of all structures (``tools/flights/count_intervals.py``): the spread is multiplied and a share of
the figure is added in quadrature, so that 95 % of the intervals hold the truth; see decision 0009 and
``benchmarks/results/coverage.json``.
"""

from __future__ import annotations

from dataclasses import dataclass

#: Figures whose floor is a share of the figure; those of the others are in the figure's unit.
RELATIVE = frozenset({"bandwidth", "bandwidth_gain", "phase_delay", "crossover", "peak_sensitivity"})


@dataclass(frozen=True, slots=True)
class Activity:
    """What of a flight the calibration depends on: seconds used, and share of saturated rows."""

    seconds: float
    saturated: float


#: By route and figure: factor on the spread, floor (standard deviation; share or unit).
TABLE: dict[tuple[str, str], tuple[float, float]] = {}


def widened(
    name: str, route: str, value: float, low: float, high: float, activity: Activity
) -> tuple[float, float]:
    """Ends of the 95 % interval from the 2.5 and 97.5 % points of the drawn figures."""
    factor, floor = TABLE.get((route, name), (1.0, 0.0))
    extra = 1.96 * floor * (abs(value) if name in RELATIVE else 1.0)
    below = ((factor * max(value - low, 0.0)) ** 2 + extra**2) ** 0.5
    above = ((factor * max(high - value, 0.0)) ** 2 + extra**2) ** 0.5
    return value - below, value + above
