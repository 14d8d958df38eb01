"""From the spread of drawn loops to intervals that cover as often as they say.

The spread holds what the data's noise does to the estimate. What real airframes and controllers do beyond the
models (bent thrust, a flexing frame, unequal motors, unsteady noise) is not in it. Both were counted on
simulated flights of all structures (``tools/flights/count_intervals.py``): the spread is multiplied and a
share of the figure is added in quadrature, so that 95 % of the intervals hold the truth; see decision 0009
and ``benchmarks/results/coverage.json``.
"""

from __future__ import annotations

from dataclasses import dataclass

#: Share of rows with a motor at its end from which on a flight counts as hard.
HARD = 0.1
#: Figures whose floor is a share of the figure; those of the others are in the figure's unit.
RELATIVE = frozenset(
    {"bandwidth", "bandwidth_gain", "phase_delay", "crossover", "peak_sensitivity", "rise_time"}
)


@dataclass(frozen=True, slots=True)
class Activity:
    """What of a flight the calibration depends on: the share of saturated rows."""

    saturated: float

    @property
    def hardness(self) -> float:
        """0 for a calm flight, 1 from a tenth of the time with a motor at its end on."""
        return min(1.0, self.saturated / HARD)


#: By route and figure: factor on the spread, and the floor of a calm and of a hard flight (standard
#: deviations; share or unit).
TABLE: dict[tuple[str, str], tuple[float, float, float]] = {
    ("known controller", "bandwidth"): (0.95, 0.0045, 0.0160),
    ("known controller", "bandwidth_gain"): (0.95, 0.0102, 0.0184),
    ("known controller", "crossover"): (0.80, 0.0093, 0.0213),
    ("known controller", "gain_margin"): (1.05, 0.694, 0.694),
    ("known controller", "peak_sensitivity"): (0.90, 0.01, 0.0233),
    ("known controller", "phase_delay"): (0.85, 0.0271, 0.0376),
    ("known controller", "phase_margin"): (0.95, 0.315, 1.05),
    ("known controller", "overshoot"): (0.95, 0.0014, 0.0030),
    ("known controller", "rise_time"): (0.95, 0.0038, 0.0172),
    ("model-free", "bandwidth"): (0.85, 0.0, 0.0145),
    ("model-free", "bandwidth_gain"): (0.95, 0.0019, 0.0188),
    ("model-free", "crossover"): (0.80, 0.0137, 0.0196),
    ("model-free", "gain_margin"): (1.10, 0.431, 0.739),
    ("model-free", "peak_sensitivity"): (0.85, 0.0253, 0.0253),
    ("model-free", "phase_delay"): (0.85, 0.0334, 0.0401),
    ("model-free", "phase_margin"): (0.80, 0.814, 0.876),
    ("model-free", "overshoot"): (0.80, 0.0, 0.0002),
    ("model-free", "rise_time"): (0.80, 0.0, 0.0170),
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
    factor, calm, hard = TABLE.get((route, name), (1.0, 0.0, 0.0))
    floor = calm + (hard - calm) * activity.hardness
    extra = 1.96 * floor * (abs(value) if name in RELATIVE else 1.0)
    below = ((factor * max(value - low, 0.0)) ** 2 + extra**2) ** 0.5
    above = ((factor * max(high - value, 0.0)) ** 2 + extra**2) ** 0.5
    return value - below, value + above
