"""The error of a flight's figure in a comparison with other flights of the same aircraft.

An interval that is shown holds a floor for what real aircraft do beyond the models (bent thrust, a flexing
frame, unequal motors; see :mod:`asflown.core.behaviour.response.calibration`). Before and after share most of
it, and it cancels in their difference. Here the spread that the data's noise makes is got back from the
interval, and factors and floors of *differences* are taken instead.

They were fitted to simulated pairs of flights (``tools/flights/paired_errors.py``): about 100 aircraft of
seven structures in each of six cells (20 and 60 s; low, normal and high activity), bandwidth changed by up to
40 %, the flight after of the same activity and logged the same way. Rates of the verdict were counted on
other aircraft (``benchmarks/results/verdict.json``). How far it holds where controller, log or activity are
others after than before was looked at with ``tools/flights/fly_refits.py``, on aircraft of their own
(``benchmarks/results/refits.json``). Outside of what was looked at, and by another route, the interval that
is shown stands.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from asflown.core.behaviour.response.calibration import RELATIVE, Activity, Three
from asflown.core.behaviour.response.calibration import TABLE as SHOWN

#: By route and figure: factors on the spread and floors of a difference (standard deviations; share or unit),
#: at :data:`asflown.core.behaviour.response.calibration.KNOTS`.
TABLE: dict[tuple[str, str], tuple[Three, Three]] = {
    ("known_controller", "bandwidth"): ((1, 1, 1.15), (0, 0.00178, 0.000571)),
    ("known_controller", "crossover"): ((0.95, 1, 1), (0, 0, 0.00209)),
    ("known_controller", "gain_margin"): ((0.55, 0.85, 0.7), (0.642, 0.107, 0.458)),
    ("known_controller", "overshoot"): ((0.65, 0.75, 0.75), (0.00198, 0.0019, 0.00145)),
    ("known_controller", "peak_sensitivity"): ((0.55, 0.75, 0.75), (0.0323, 0.0124, 0.0179)),
    ("known_controller", "phase_delay"): ((0.8, 1, 0.65), (0.0134, 0, 0.036)),
    ("known_controller", "phase_margin"): ((0.8, 0.95, 0.9), (0.362, 0.265, 0.375)),
    ("known_controller", "rise_time"): ((0.7, 1, 0.8), (0.0105, 0.00072, 0.00903)),
    ("model_free", "bandwidth"): ((0.6, 0.5, 0.5), (0.00135, 0.00107, 0.00288)),
    ("model_free", "crossover"): ((0.85, 0.95, 0.9), (0.00548, 0.00481, 0.00423)),
    ("model_free", "gain_margin"): ((0.5, 0.55, 0.8), (1.26, 1.47, 0.659)),
    ("model_free", "overshoot"): ((0.6, 0.55, 0.5), (0, 0, 0)),
    ("model_free", "peak_sensitivity"): ((0.55, 0.95, 0.85), (0.0453, 0.0102, 0.0148)),
    ("model_free", "phase_delay"): ((0.8, 0.95, 0.7), (0.00483, 0, 0.0323)),
    ("model_free", "phase_margin"): ((0.8, 0.9, 0.85), (0, 0.196, 0)),
    ("model_free", "rise_time"): ((0.65, 0.7, 0.65), (0.00269, 0, 0)),
}
#: What fitted errors are multiplied by: their tails are longer than a normal error's.
LONGER = 1.1
#: Shares of rows with a motor at its end up to which, and differences of it over which, pairs were counted.
MOST, FARTHEST = 0.6, 0.25
#: Half a 95 % interval over its standard error.
_HALF = 1.96
#: Routes as the calibration spells them.
_SHOWN_AS = {"known_controller": "known controller", "model_free": "model-free"}


def are_alike(saturated: Sequence[float | None]) -> bool:
    """Whether flights with these shares of saturated rows were counted together; not where one is unknown."""
    known = [share for share in saturated if share is not None]
    if not known or len(known) < len(saturated):
        return False
    return max(known) <= MOST and max(known) - min(known) <= FARTHEST


def is_counted(name: str, route: str) -> bool:
    """Whether a quantity by a route was counted in comparisons."""
    return name.startswith("axes.") and (route, name.rpartition(".")[2]) in TABLE


def parts(
    name: str, route: str, interval: tuple[float, float, float], saturated: float, beside: float
) -> tuple[float, float] | None:
    """Standard errors of one flight's figure where flights are compared.

    Parameters
    ----------
    name, route
        Of the quantity, e.g. ``axes.roll.bandwidth`` and ``known_controller``.
    interval
        Value, and ends of the interval that is shown.
    saturated, beside
        Share of rows with a motor at its end, of this flight and of those it is compared with: what they do
        not share is not taken off.

    Returns
    -------
    (float, float) or None
        What falls with the time flown and the floor, to be added as squares; as shares of the value for
        figures that are told so (:data:`asflown.core.behaviour.response.calibration.RELATIVE`), otherwise in
        the figure's unit. ``None`` for a quantity that was not counted.
    """
    if not is_counted(name, route):
        return None
    figure = name.rpartition(".")[2]
    value, low, high = interval
    own, other = Activity(saturated), Activity(beside)
    size = abs(value) if figure in RELATIVE else 1.0
    if not size > 0.0:
        return None
    factors, floors = SHOWN[_SHOWN_AS[route], figure]
    shown = own.between(floors)
    longer = max(high - value, value - low) / size
    spread = math.sqrt(max(longer**2 - (_HALF * shown) ** 2, 0.0)) / own.between(factors)
    times, floor = (own.between(knots) for knots in TABLE[route, figure])
    unshared = abs(shown - other.between(floors))
    return LONGER * times * spread / _HALF, math.hypot(LONGER * floor / math.sqrt(2.0), unshared)


def shown_floor(name: str, route: str, saturated: float | None) -> float:
    """Floor in the interval that is shown, a share or in the figure's unit; calm where it is not known."""
    figure = name.rpartition(".")[2]
    row = SHOWN.get((_SHOWN_AS.get(route, route), figure))
    if row is None or not name.startswith("axes."):
        return 0.0
    return Activity(saturated or 0.0).between(row[1])


def is_share(name: str) -> bool:
    """Whether the error of a quantity is told as a share of it."""
    return name.rpartition(".")[2] in RELATIVE
