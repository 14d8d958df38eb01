"""Pairs of flights before and after a refit, from the rows that ``count_verdicts.py fly`` wrote.

A pair's true difference is taken in one of two ways. *As flown*: the true figures of either flight at its own
operating point, which is what the intervals of a flight are for. The mean collective of two flights is not
the same, and where thrust bends with the command their plants differ by 0.1 to 2 %; the measured bandwidth
after is therefore brought by that known ratio to the level exactly (:func:`at_level`). *As set*: nothing is
moved; the difference of collectives then counts as scatter between flights.
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from asflown.core.signals import AXES
from asflown.core.verdict.estimate import Estimate, FlightEstimates
from asflown.core.verdict.margins import DEFAULTS, Margin, Weight, margin_of

Row = dict[str, Any]
#: Names of routes in rows, and in estimates.
ROUTES = {"known controller": "known_controller", "model-free": "model_free"}
EDGE = math.log(1.15)
#: Logarithm of the ratio of true bandwidths by level.
LEVELS = {
    "-40": math.log(0.6),
    "-20": math.log(0.8),
    "-edge": -EDGE,
    "-10": math.log(0.9),
    "-5": math.log(0.95),
    "0": 0.0,
    "+5": math.log(1.05),
    "+10": math.log(1.1),
    "+edge": EDGE,
    "+20": math.log(1.2),
    "+40": math.log(1.4),
}


@dataclass
class Aircraft:
    """One aircraft in one cell.

    Attributes
    ----------
    before
        Row by axis.
    after
        By level, row by axis.
    left_out
        By level and axis, why nobody flew it.
    """

    seed: int
    structure: str
    seconds: float
    activity: str
    before: dict[str, Row] = field(default_factory=dict)
    after: dict[str, dict[str, Row]] = field(default_factory=dict)
    left_out: dict[str, dict[str, str]] = field(default_factory=dict)


def read(paths: Iterable[str]) -> list[Aircraft]:
    """Aircraft with their flights; a line cut short is passed over, and so is an aircraft without before."""
    made: dict[tuple[int, float, str], Aircraft] = {}
    for row in _rows(paths):
        key = row["seed"], row["seconds"], row["activity"]
        one = made.setdefault(key, Aircraft(row["seed"], row["structure"], row["seconds"], row["activity"]))
        if "left_out" in row:
            for axis in [row["axis"]] if "axis" in row else AXES:
                one.left_out.setdefault(row["level"], {})[axis] = row["left_out"]
        elif row["level"] == "before":
            one.before[row["axis"]] = row
        else:
            one.after.setdefault(row["level"], {})[row["axis"]] = row
    return [one for one in made.values() if one.before]


def _rows(paths: Iterable[str]) -> Iterator[Row]:
    for path in paths:
        for line in Path(path).read_text().splitlines():
            try:
                yield json.loads(line)
            except json.JSONDecodeError:
                continue


def estimates(
    name: str,
    rows: dict[str, Row],
    route: str,
    *,
    figures: Sequence[str] | None = None,
    factors: dict[str, float] | None = None,
) -> FlightEstimates:
    """What a flight says of its axes, by one route.

    Parameters
    ----------
    figures
        These alone; all where not given.
    factors
        By axis, what the bandwidth is multiplied by (scatter, or bringing it to the level).
    """
    found: dict[str, Estimate] = {}
    for axis, row in rows.items():
        for figure, (value, low, high) in row["routes"].get(route, {}).items():
            if (figures is not None and figure not in figures) or low is None or high is None:
                continue
            times = (factors or {}).get(axis, 1.0) if figure == "bandwidth" else 1.0
            found[f"axes.{axis}.{figure}"] = Estimate(times * value, times * low, times * high)
    seconds = next(iter(rows.values()))["seconds"]
    saturated = {axis: row["saturated"] for axis, row in rows.items() if row["saturated"] is not None}
    return FlightEstimates(name, seconds, {"": {}, ROUTES[route]: found}, saturated=saturated)


def at_level(before: Row, after: Row, level: str) -> float:
    """What brings the bandwidth after, at its own operating point, to the level."""
    flown = math.log(after["truth"]["bandwidth"] / before["truth"]["bandwidth"])
    return math.exp(LEVELS[level] - flown)


def scattered(one: Aircraft, level: str, size: float) -> tuple[float, float]:
    """Factors of the flights before and after: drawn, the same at every call."""
    random = np.random.default_rng((one.seed, list(LEVELS).index(level), 211))
    before, after = np.exp(size * random.standard_normal(2))
    return float(before), float(after)


def true_differences(one: Aircraft, level: str) -> dict[str, tuple[float, Margin]]:
    """Of every judged figure, on its margin's scale, each flight at its own operating point."""
    made = {}
    for axis in AXES:
        before, after = one.before[axis]["truth"], one.after[level][axis]["truth"]
        for figure in before:
            name = f"axes.{axis}.{figure}"
            try:
                margin = margin_of(name)
            except ValueError:
                continue
            if margin is None:
                continue
            difference = margin.of(after[figure]) - margin.of(before[figure])
            if math.isfinite(difference):
                made[name] = (difference, margin)
    return made


def farthest(differences: dict[str, tuple[float, Margin]], *, needed: bool = False) -> tuple[float, str]:
    """The largest true difference as a share of its margin, and whose it is."""
    shares = [
        (max(difference / margin.high, difference / margin.low), name)
        for name, (difference, margin) in differences.items()
        if margin.weight is Weight.REQUIRED or not needed
    ]
    return max(shares)


def of_quantity(name: str) -> tuple[Margin, ...]:
    """The usual margin of one figure of the axes, alone."""
    return tuple(margin for margin in DEFAULTS if margin.quantity == f"axes.{{axis}}.{name}")


def binomial(hits: int, total: int) -> tuple[float, float]:
    """Clopper-Pearson 95 % bound."""
    from scipy.stats import beta

    low = 0.0 if hits == 0 else float(beta.ppf(0.025, hits, total - hits + 1))
    high = 1.0 if hits == total else float(beta.ppf(0.975, hits + 1, total - hits))
    return low, high


def grouped(aircraft: Iterable[Aircraft]) -> dict[tuple[float, str], list[Aircraft]]:
    """By seconds and activity."""
    made: dict[tuple[float, str], list[Aircraft]] = defaultdict(list)
    for one in aircraft:
        made[one.seconds, one.activity].append(one)
    return dict(sorted(made.items()))
