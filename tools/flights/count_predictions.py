"""How far predictions for other controllers are from the truth, and how often stability is called right.

``python tools/flights/count_predictions.py rows.jsonl --out benchmarks/results/prediction.json`` takes the
flights before that ``count_verdicts.py fly`` flew (60 s, normal activity), each with its fitted plant, and
predicts other controllers from it: those that flew after (gains scaled to a bandwidth), and refits that no
flight is needed for: derivative gain times 2.5, 0.4 and 8, filters at half their frequency, half the
proportional gain. The truth is ``truth.py``'s, at the operating point of the flight before.

Figures are compared where the true loop is stable and is not called unstable. Stability is one call for an
aircraft: unstable where any axis is called so, unsure where any is unsure; it is told by how far the loop is
from the limit: the least of ``|20 log10 |L||`` over the axes' frequencies where the loop's phase is -180 deg.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import population as pop
import truth as known
from count_intervals import true_steps
from count_pairs import lines, ranges
from count_verdicts import at_level
from fly_others import AsTruth
from pairs import LEVELS, Aircraft, binomial, read

from asflown.core.behaviour.predict.controls import Controls
from asflown.core.behaviour.predict.predict import predict
from asflown.core.behaviour.predict.result import UNITS, Stability
from asflown.core.behaviour.response.calibration import RELATIVE
from asflown.core.identified import Identified
from asflown.core.signals import AXES

Row = dict[str, Any]


def _derivative(times: float) -> Callable[[Any], Any]:
    return lambda one: replace(one, kd=tuple(times * gain for gain in one.kd))


def _slow_filters(one: Any) -> Any:
    def slower(parts: Any) -> Any:
        return tuple(replace(part, frequency=0.5 * part.frequency) for part in parts)

    return replace(one, gyro_filters=slower(one.gyro_filters), d_filters=slower(one.d_filters))


REFITS: dict[str, Callable[[Any], Any]] = {
    "derivative x2.5": _derivative(2.5),
    "derivative x0.4": _derivative(0.4),
    "derivative x8": _derivative(8.0),
    "slow filters": _slow_filters,
    "half the proportional": lambda one: replace(one, kp=tuple(0.5 * gain for gain in one.kp)),
}
#: Distances from the limit, dB, at which stability is told.
NEAR = (0.3, 1.0)


def controls(controller: Any, axis: str) -> Controls:
    """The controller of an axis as it is."""
    found = AsTruth(axis, controller.loop_rate, (), flown=controller, place=AXES.index(axis))
    latency = (controller.computation_steps + 0.5) / controller.loop_rate
    return Controls(declared=found, loop_rate=controller.loop_rate, latency=latency)


def refits(one: Aircraft, aircraft: Any, point: Any) -> Iterator[tuple[str, Any]]:
    """Every controller that is predicted."""
    was = known.truth(*aircraft, point)
    bandwidths = np.array([was[axis].bandwidth for axis in AXES])
    for level in one.after:
        yield f"bandwidth {level}", at_level(*aircraft, point, bandwidths, LEVELS[level])[0]
    for name, change in REFITS.items():
        yield name, change(aircraft[1])


def from_limit(aircraft: Any, point: Any) -> float:
    """dB, of the loop that is nearest to its limit."""
    grid = np.geomspace(0.5, 0.45 * aircraft[1].loop_rate, 3000)
    loop = known.responses(*aircraft, point, grid).loop
    least = math.inf
    for one in loop:
        turns = np.flatnonzero((one.imag[1:] * one.imag[:-1] < 0) & (one.real[1:] < 0))
        for place in turns:
            share = one.imag[place] / (one.imag[place] - one.imag[place + 1])
            size = abs(one.real[place] + share * (one.real[place + 1] - one.real[place]))
            least = min(least, abs(20.0 * math.log10(size)))
    return least


def one_aircraft(one: Aircraft) -> list[Row]:
    """A row for each axis of each refit, and one for the aircraft's stability."""
    import msgspec

    airframe, controller = pop.draw(one.seed, one.structure)
    first = next(iter(one.before.values()))
    point = known.OperatingPoint(tuple(first["point"]["slopes"]), first["point"]["compensation"])
    found = {
        axis: msgspec.convert(row["identified"], Identified)
        for axis, row in one.before.items()
        if "identified" in row
    }
    rows: list[Row] = []
    for name, after in refits(one, (airframe, controller), point):
        stable = known.is_stable(airframe, after, point)
        cell = {"seed": one.seed, "structure": one.structure, "refit": name, "stable": stable}
        made = {
            axis: predict(identified, controls(controller, axis), controls(after, axis))
            for axis, identified in found.items()
        }
        called = {axis: str(prediction.after.stability) for axis, prediction in made.items()}
        rows.append({**cell, "called": called, "from_limit": from_limit((airframe, after), point)})
        if not stable:
            continue
        true, steps = known.truth(airframe, after, point), true_steps((airframe, after), point)
        for axis, prediction in made.items():
            if prediction.after.stability is Stability.UNSTABLE:
                continue
            numbers = {name: getattr(true[axis], name, None) for name in UNITS} | steps[axis]
            measured = one.after.get(name.removeprefix("bandwidth "), {}).get(axis)
            own = {} if measured is None else measured["routes"].get("known controller", {})
            figures = {
                figure: [told.value, told.low, told.high, numbers[figure], own.get(figure, [None])[0]]
                for figure, told in prediction.after.figures.items()
                if told.value is not None and numbers[figure] is not None
            }
            rows.append({**cell, "axis": axis, "figures": figures})
    return rows


def error(figure: str, value: float, true: float) -> float:
    """A share, or in the figure's unit."""
    return (value - true) / true if figure in RELATIVE else value - true


def figure_cells(rows: list[Row]) -> Iterator[dict[str, object]]:
    """Errors of each figure: linear aircraft and all, roll and pitch apart from yaw, by kind of refit."""
    groups: dict[tuple[str, str, str, str], list[list[float]]] = defaultdict(list)
    for row in rows:
        if "axis" not in row:
            continue
        axes = "yaw" if row["axis"] == "yaw" else "roll, pitch"
        kind = "gains scaled" if row["refit"].startswith("bandwidth") else row["refit"]
        among = ("all", "linear") if row["structure"] == "linear" else ("all",)
        for figure, numbers in row["figures"].items():
            if math.isfinite(numbers[3]):
                for structures, refit in itertools.product(among, (kind, "all")):
                    groups[structures, axes, refit, figure].append(numbers)
    for key, numbers in sorted(groups.items()):
        yield dict(zip(("structures", "axes", "refit", "figure"), key, strict=True)) | _errors(
            key[3], numbers
        )


def _errors(figure: str, numbers: list[list[float]]) -> dict[str, object]:
    """Percentiles of the error, and how often the interval holds the truth."""
    errors = np.abs([error(figure, one[0], one[3]) for one in numbers])
    inside = [one[1] <= one[3] <= one[2] for one in numbers if None not in one[1:3]]
    flown = np.abs([error(figure, one[0], one[4]) for one in numbers if one[4]])
    return {
        "count": len(numbers),
        "median": _short(np.median(errors)),
        "p95": _short(np.percentile(errors, 95)),
        "p95_bounds": [_short(x) for x in percentile_bounds(errors, 0.95)],
        "covered": _short(np.mean(inside)) if inside else None,
        "covered_bounds": [_short(x) for x in binomial(sum(inside), len(inside))] if inside else None,
        "p95_to_measured": _short(np.percentile(flown, 95)) if flown.size else None,
    }


def percentile_bounds(values: np.ndarray, share: float) -> tuple[float, float]:
    """95 % bounds of a percentile by order statistics (binomial)."""
    from scipy.stats import binom

    ordered = np.sort(values)
    low = int(binom.ppf(0.025, ordered.size, share)) - 1
    high = int(binom.ppf(0.975, ordered.size, share))
    return float(ordered[max(low, 0)]), float(ordered[min(high, ordered.size - 1)])


def stability_cells(rows: list[Row]) -> Iterator[dict[str, object]]:
    """Calls of stability by how far the loop is from its limit."""
    calls = [row for row in rows if "called" in row and len(row["called"]) == len(AXES)]
    for low, high in ((0.0, NEAR[0]), NEAR, (NEAR[1], math.inf)):
        for stable in (True, False):
            group = [r for r in calls if r["stable"] == stable and low <= r["from_limit"] < high]
            told = [_call(row["called"]) for row in group]
            right = told.count(Stability.STABLE if stable else Stability.UNSTABLE)
            wrong = told.count(Stability.UNSTABLE if stable else Stability.STABLE)
            yield {
                "from_limit_db": [low, None if math.isinf(high) else high],
                "truly": "stable" if stable else "unstable",
                "count": len(group),
                "right": right,
                "wrong": wrong,
                "unsure": told.count(Stability.UNSURE),
                "wrong_bounds": [_short(x) for x in binomial(wrong, len(group))] if group else None,
                "right_bounds": [_short(x) for x in binomial(right, len(group))] if group else None,
            }


def _call(called: dict[str, str]) -> Stability:
    for one in (Stability.UNSTABLE, Stability.UNSURE):
        if one in called.values():
            return one
    return Stability.STABLE


def _short(number: float) -> float:
    return float(f"{float(number):.4g}")


def count(asked: argparse.Namespace) -> None:
    """Predict, count, print, write."""
    chosen = [one for one in read(asked.rows) if (one.seconds, one.activity) == (60.0, "normal")]
    chosen = chosen[: asked.aircraft]
    begun, rows = time.time(), []
    with ProcessPoolExecutor(asked.workers) as pool:
        for made in pool.map(one_aircraft, chosen):
            rows += made
    made = {
        "aircraft": len(chosen),
        "seeds": ranges([one.seed for one in chosen]),
        "refits": sum("called" in row for row in rows),
        "figures": list(figure_cells(rows)),
        "stability": list(stability_cells(rows)),
    }
    if asked.kept:
        Path(asked.kept).write_text("".join(json.dumps(row) + "\n" for row in rows))
    tell(made)
    print(f"{len(chosen)} aircraft, {made['refits']} refits, {time.time() - begun:.0f} s")
    if asked.out:
        Path(asked.out).write_text(lines(made))


def tell(made: dict[str, Any]) -> None:
    """Print errors and calls."""
    for one in made["figures"]:
        print(
            f"{one['structures']:7s} {one['axes']:12s} {one['refit']:22s} {one['figure']:16s}"
            f" n {one['count']:5d} median {one['median']:9.5f} p95 {one['p95']:9.5f}"
            f" ({one['p95_bounds'][0]}-{one['p95_bounds'][1]}) covered {one['covered']}"
            f" to measured {one['p95_to_measured']}"
        )
    for one in made["stability"]:
        print(json.dumps(one))


def main() -> None:
    """Count from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("rows", nargs="+")
    parser.add_argument("--aircraft", type=int, default=10_000, help="at most")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out")
    parser.add_argument("--kept", help="file for the rows, to look into")
    count(parser.parse_args())


if __name__ == "__main__":
    main()
