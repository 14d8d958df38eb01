"""The error of a difference between two flights of one aircraft, calibrated by itself.

``python tools/flights/paired_errors.py rows.jsonl`` proposes the table of :mod:`asflown.core.verdict.paired`
and shows how it does on the aircraft it was not fitted to.

A kept interval holds a floor for what the aircraft does beyond the models
(:mod:`asflown.core.behaviour.response.calibration`). Most of that is the same in both flights and cancels in
their difference. The spread of the drawn loops is got back from the interval and from the share of saturated
rows; then ``SE^2 = (f spread)^2 + floor^2 / 2`` for either flight, with factors and floors fitted to true
differences (each flight at its own operating point), by figure, route and activity.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from count_intervals import ACTIVITIES, _fitted
from pairs import ROUTES, Aircraft, Row, read

from asflown.core.behaviour.response.calibration import KNOTS, RELATIVE, TABLE, Activity, Three
from asflown.core.study.quantities import quantity
from asflown.core.verdict.margins import DEFAULTS, Scale, margin_of

FIGURES = tuple(
    margin.quantity.rpartition(".")[2]
    for margin in DEFAULTS
    if margin.quantity.startswith("axes.") and "stick" not in margin.quantity
)


def spread(row: Row, route: str, figure: str) -> float:
    """95 % half-width of the drawn loops, before the calibration; a share for relative figures."""
    value, low, high = row["routes"][route][figure]
    activity = Activity(row["saturated"])
    factors, floors = TABLE[route, figure]
    size = abs(value) if figure in RELATIVE else 1.0
    half = max(abs(high - value), abs(value - low)) / size
    extra = 1.96 * activity.between(floors)
    return math.sqrt(max(half**2 - extra**2, 0.0)) / activity.between(factors)


@dataclass(frozen=True)
class Difference:
    """Of one figure in one pair of flights, on the margin's scale.

    Attributes
    ----------
    error
        Measured less true difference.
    spread
        95 % half-width of the drawn loops of both flights.
    shares
        (3,) how much of each knot's numbers counts.
    held_out
        Whether the table is not fitted to it: every second round of structures.
    """

    activity: str
    seconds: float
    error: float
    spread: float
    shares: tuple[float, ...]
    held_out: bool


def is_held_out(one: Aircraft) -> bool:
    """Every second round of structures of the first 200 aircraft, and all later ones."""
    number = one.seed % 1000
    return number >= 200 or number // 7 % 2 == 1


def differences(aircraft: Iterable[Aircraft]) -> dict[tuple[str, str], list[Difference]]:
    """By route and figure."""
    made: dict[tuple[str, str], list[Difference]] = defaultdict(list)
    for one in aircraft:
        for rows in one.after.values():
            for axis, after in rows.items():
                for route in ROUTES:
                    for figure in FIGURES:
                        found = _difference(one, one.before[axis], after, route, figure)
                        if found is not None:
                            made[route, figure].append(found)
    return made


def _difference(one: Aircraft, before: Row, after: Row, route: str, figure: str) -> Difference | None:
    sides = before, after
    if any(figure not in row["routes"].get(route, {}) for row in sides):
        return None
    margin = margin_of(f"axes.roll.{figure}")
    measured = [margin.of(row["routes"][route][figure][0]) for row in sides]
    true = [margin.of(row["truth"][figure]) for row in sides]
    if not all(math.isfinite(x) for x in (*measured, *true)):
        return None
    saturated = 0.5 * sum(row["saturated"] for row in sides)
    return Difference(
        one.activity,
        one.seconds,
        measured[1] - measured[0] - true[1] + true[0],
        math.hypot(*(spread(row, route, figure) for row in sides)),
        tuple(float(np.interp(saturated, KNOTS, unit)) for unit in np.eye(3)),
        is_held_out(one),
    )


def fitted(found: list[Difference]) -> tuple[Three, Three]:
    """Factors and floors, every cell of activity and length near 95 %, then narrowest."""
    factors, floors = np.ones(3), np.zeros(3)
    cells: dict[tuple[str, float], list[Difference]] = defaultdict(list)
    for one in found:
        cells[one.activity, one.seconds].append(one)
    for _ in range(3):
        for place, activity in enumerate(ACTIVITIES):
            own = [_arrays(group) for (what, _), group in cells.items() if what == activity]
            factors[place], floors[place] = _fitted(own, factors, floors, place)
    return tuple(map(float, factors)), tuple(map(float, floors))  # type: ignore[return-value]


def _arrays(group: list[Difference]) -> tuple[np.ndarray, ...]:
    error, own = (np.array([getattr(one, name) for one in group]) for name in ("error", "spread"))
    return error, error - own, error + own, np.array([one.shares for one in group])


def main() -> None:
    """Fit and show."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("rows", nargs="+")
    asked = parser.parse_args()
    for (route, figure), found in sorted(differences(read(asked.rows)).items()):
        factors, floors = fitted([one for one in found if not one.held_out])
        told = [", ".join(f"{number:.3g}" for number in numbers) for numbers in (factors, floors)]
        print(f'    ("{ROUTES[route]}", "{figure}"): (({told[0]}), ({told[1]})),')
        unit = "share" if margin_of(f"axes.roll.{figure}").scale is Scale.RATIO else _unit(figure)
        for seconds in sorted({one.seconds for one in found}):
            for activity in ACTIVITIES:
                group = [
                    one
                    for one in found
                    if one.held_out and (one.seconds, one.activity) == (seconds, activity)
                ]
                if not group:
                    continue
                error, low, _, shares = _arrays(group)
                half = np.hypot(shares @ factors * (error - low), 1.96 * (shares @ floors))
                covered = [np.mean(np.abs(error) < times * half) for times in (1.0, 1.645 / 1.96)]
                print(
                    f"      # {seconds:.0f} s {activity}: {len(group)} axes, covered {covered[0]:.3f} of 95 %"
                    f", {covered[1]:.3f} of 90 %, error {np.std(error):.4f}, SE {np.median(half) / 1.96:.4f}"
                    f" {unit}"
                )


def _unit(figure: str) -> str:
    return quantity(f"axes.roll.{figure}").unit


if __name__ == "__main__":
    main()
