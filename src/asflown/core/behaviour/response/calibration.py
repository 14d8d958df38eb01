"""From the spread of drawn loops to intervals that cover as often as they say.

The spread holds what the data's noise does to the estimate. What real airframes and controllers do beyond the
models (bent thrust, a flexing frame, unequal motors, unsteady noise) is not in it. Both were counted on
simulated flights of all structures (``tools/flights/count_intervals.py``): the spread is multiplied and a
floor is added in quadrature, so that 95 % of the intervals hold the truth in calm, normal and hard flying;
see decision 0009 and ``benchmarks/results/coverage.json``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: Shares of rows with a motor at its end at which the calibration was counted: calm, normal and hard flying;
#: straight between them, constant beyond.
KNOTS = (0.0, 0.04, 0.25)
#: Figures whose floor is a share of the figure; those of the others are in the figure's unit.
RELATIVE = frozenset(
    {"bandwidth", "bandwidth_gain", "phase_delay", "crossover", "peak_sensitivity", "rise_time"}
)


Three = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Activity:
    """What of a flight the calibration depends on: the share of saturated rows."""

    saturated: float

    def between(self, knots: Three) -> float:
        """A number that is given at `KNOTS`."""
        return float(np.interp(self.saturated, KNOTS, knots))


#: By route and figure: factors on the spread, and floors (standard deviations; share or unit), at `KNOTS`.
TABLE: dict[tuple[str, str], tuple[Three, Three]] = {
    ("known controller", "bandwidth"): ((1.10, 0.75, 0.40), (0.000459, 0.00787, 0.018)),
    ("known controller", "bandwidth_gain"): ((0.95, 0.80, 0.45), (0.00414, 0.0139, 0.0271)),
    ("known controller", "crossover"): ((1.10, 0.65, 0.80), (0, 0.0121, 0.0238)),
    ("known controller", "gain_margin"): ((1.00, 0.80, 0.90), (0, 1.19, 0.714)),
    ("known controller", "overshoot"): ((1.00, 1.15, 0.65), (0.000122, 0.0033, 0.00411)),
    ("known controller", "peak_sensitivity"): ((1.05, 0.75, 0.70), (0, 0.0151, 0.0242)),
    ("known controller", "phase_delay"): ((0.90, 0.75, 0.70), (0.0189, 0.0293, 0.0435)),
    ("known controller", "phase_margin"): ((1.10, 0.70, 0.80), (0, 0.651, 1.02)),
    ("known controller", "rise_time"): ((0.95, 0.65, 0.75), (0.00387, 0.0147, 0.018)),
    ("model-free", "bandwidth"): ((0.65, 0.65, 0.75), (0, 0, 0.0151)),
    ("model-free", "bandwidth_gain"): ((0.75, 0.90, 1.25), (0.0103, 0.00325, 0.0118)),
    ("model-free", "crossover"): ((1.00, 0.80, 1.15), (0, 0.0139, 0.0174)),
    ("model-free", "gain_margin"): ((0.95, 1.35, 0.75), (0.841, 0.79, 1.15)),
    ("model-free", "overshoot"): ((0.75, 0.70, 0.60), (0.000711, 0, 0.000524)),
    ("model-free", "peak_sensitivity"): ((0.90, 0.95, 0.65), (0.0202, 0.0243, 0.0311)),
    ("model-free", "phase_delay"): ((0.90, 0.80, 0.90), (0.0184, 0.0299, 0.0348)),
    ("model-free", "phase_margin"): ((1.00, 0.95, 0.75), (0, 0, 0.897)),
    ("model-free", "rise_time"): ((0.75, 0.75, 1.15), (0, 0.00898, 0.00745)),
}


def widened(
    name: str, route: str, value: float, low: float, high: float, activity: Activity
) -> tuple[float, float]:
    """Ends of the 95 % interval from the 2.5 and 97.5 % points of the drawn figures.

    Parameters
    ----------
    name, route
        Which row of `TABLE`; without a row the points themselves are the ends.
    value, low, high
        Estimate and the points, in the figure's unit; a point on the wrong side counts as the estimate.
    activity
        Of the flight.
    """
    factors, floors = TABLE.get((route, name), ((1.0, 1.0, 1.0), (0.0, 0.0, 0.0)))
    factor, floor = activity.between(factors), activity.between(floors)
    extra = 1.96 * floor * (abs(value) if name in RELATIVE else 1.0)
    below = ((factor * max(value - low, 0.0)) ** 2 + extra**2) ** 0.5
    above = ((factor * max(high - value, 0.0)) ** 2 + extra**2) ** 0.5
    return value - below, value + above
