"""How often the intervals of the rate-loop figures hold the truth, and how wide they are.

Counted on simulated flights. ``python tools/flights/count_intervals.py run --first 200000 --flights 20
--out rows.jsonl`` flies and measures (cells: 20, 60 and 180 s at low, normal and high activity; structures
in turn, most of them another structure than the estimator's); rows hold the spread of the drawn loops before
the calibration. ``table rows.jsonl …`` calibrates them as asflown does, prints the table and writes it as
JSON. ``fit rows.jsonl`` proposes the calibration. The calibration comes from some of the seeds
(:func:`is_calibrated_on`), which the table leaves out.

The truth is computed by ``truth.py``. The interval's own bound is the exact binomial one (Clopper-Pearson)
over flights' axes. *oracle*: the narrowest constant half-width that covers 95 % of the errors of a cell,
what someone would quote who knows how the errors are distributed; the ratio of the median half-width to it
is printed.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import population as pop
import truth as known

from asflown.core.behaviour.response import calibration
from asflown.core.behaviour.response.axis import measure_axes
from asflown.core.behaviour.response.result import UNITS
from asflown.core.motors.mixer import mixer_from
from asflown.core.signal.timebase import even_parts
from asflown.core.signals import AXES

SECONDS = (20.0, 60.0, 180.0)
ACTIVITIES = ("low", "normal", "high")
STRUCTURES = ("linear", "quadratic", "flexible", "unequal", "compensated", "spin", "mixed")
#: Of the true step answer: samples a second, and the period over which its transform repeats, s.
STEP_RATE, STEP_PERIOD = 8000, 8


def one_flight(task: tuple[int, str, float, str, float]) -> list[dict[str, object]]:
    """Fly, measure and compare one flight: a row for each axis, route and figure, not calibrated."""
    seed, structure, seconds, activity, wind = task
    calibration.TABLE.clear()
    aircraft = pop.draw(seed, structure)
    flight = pop.fly(seed, structure, seconds, activity, wind=wind, aircraft=aircraft)
    truth = pop.truth_of(seed, structure, flight, aircraft=aircraft)
    names = [f"{kind}.{axis}" for kind in ("rate_command", "rate", "control") for axis in AXES]
    names += [f"motor.{n}" for n in range(1, aircraft[0].motors + 1)] + ["pack_voltage"]
    parts = even_parts(flight.to_flight(), names)
    values = parts[0].values
    motors = np.stack([values[name] for name in names if name.startswith("motor")])

    def stack(kind: str) -> np.ndarray:
        return np.stack([values[f"{kind}.{axis}"] for axis in AXES])

    mixer = mixer_from(motors, stack("control"), stack("rate"), parts[0].rate, commands=stack("rate_command"))

    def controller(axis: int):
        def response(frequencies):
            command, rate = known.controllers(aircraft[1], frequencies)
            return command[axis], rate[axis]

        return response

    found = measure_axes(parts, mixer.matrix, known={axis: controller(i) for i, axis in enumerate(AXES)})
    steps = true_steps(aircraft, known.of_flight(*aircraft, flight))
    rows: list[dict[str, object]] = []
    for axis, result in found.items():
        true = {name: float(getattr(truth[axis], name)) for name in UNITS} | steps[axis]
        for route, figures in result.routes.items():
            of_step = {"overshoot": figures.overshoot, "rise_time": figures.rise_time}
            for name, number in {**figures.figures, **of_step}.items():
                rows.append(
                    {
                        "seed": seed,
                        "structure": structure,
                        "seconds": seconds,
                        "activity": activity,
                        "wind": wind,
                        "axis": axis,
                        "route": route,
                        "figure": name,
                        "truth": true[name],
                        "value": number.value,
                        "low": number.low,
                        "high": number.high,
                        "saturated": flight.saturated,
                        "logged_saturated": result.saturated_share,
                    }
                )
    return rows


def true_steps(aircraft, point) -> dict[str, dict[str, float]]:
    """Overshoot and rise time of each axis, by the inverse transform of the true response on a dense grid."""
    frequencies = np.fft.rfftfreq(STEP_RATE * STEP_PERIOD, 1 / STEP_RATE)
    below = (frequencies > 0) & (frequencies < 0.45 * min(aircraft[1].loop_rate, STEP_RATE))
    made = {}
    for place, axis in enumerate(AXES):
        response = np.zeros(frequencies.size, dtype=complex)
        response[0] = 1.0  # the integral part holds the command in the end
        response[below] = known.responses(*aircraft, point, frequencies[below]).response[place]
        answer = np.cumsum(np.fft.irfft(response))[: int(0.4 * STEP_RATE)]
        reached = [int(np.argmax(answer >= level)) for level in (0.1, 0.9)]
        rise = (reached[1] - reached[0]) / STEP_RATE if answer.max() >= 0.9 else float("nan")
        made[axis] = {"overshoot": max(0.0, float(answer.max()) - 1.0), "rise_time": rise}
    return made


def tasks(asked: argparse.Namespace) -> list[tuple[int, str, float, str, float]]:
    """Cells in turn, so that a run cut short is even."""
    made = []
    for number in range(asked.flights):
        for place, (seconds, activity) in enumerate((s, a) for s in asked.seconds for a in asked.activities):
            seed = asked.first + 1000 * place + number
            structure = asked.structures[number % len(asked.structures)]
            made.append((seed, structure, seconds, activity, asked.wind))
    return made


def run(asked: argparse.Namespace) -> None:
    """Fly and measure; rows are appended as they come."""
    begun, done, work = time.time(), 0, tasks(asked)
    with ProcessPoolExecutor(asked.workers) as pool, Path(asked.out).open("a") as out:
        for rows in pool.map(one_flight, work):
            for row in rows:
                out.write(json.dumps(row) + "\n")
            out.flush()
            done += 1
            if time.time() - begun > asked.minutes * 60:
                pool.shutdown(wait=False, cancel_futures=True)
                break
    print(f"{done} of {len(work)} flights in {time.time() - begun:.0f} s")


def is_calibrated_on(seed: int) -> bool:
    """Whether the calibration came from the flight: every second round of structures, 105 flights a cell."""
    number = seed % 1000
    return 1_000_000 <= seed < 1_009_000 and number < 206 and number // len(STRUCTURES) % 2 == 0


def read(paths: list[str], *, calibration_too: bool = False) -> list[dict]:
    """Rows of the flights that were not calibrated on, or of those that were as well."""
    rows = [json.loads(line) for path in paths for line in Path(path).read_text().splitlines()]
    return [row for row in rows if calibration_too or not is_calibrated_on(row["seed"])]


def calibrated(row: dict) -> dict:
    """The row with the interval asflown shows."""
    if row["value"] is None:
        return row
    activity = calibration.Activity(row["logged_saturated"])
    points = row["value"], row["low"], row["high"]
    low, high = calibration.widened(row["figure"], row["route"], *points, activity)
    return row | {"low": max(low, 0.0) if row["figure"] == "overshoot" else low, "high": high}


def errors(rows: list[dict]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Error, and the interval's ends, about the truth; shares for relative figures."""
    name = rows[0]["figure"]
    value, low, high, truth = (
        np.array([row[key] for row in rows], float) for key in ("value", "low", "high", "truth")
    )
    size = truth if name in calibration.RELATIVE else np.ones_like(truth)
    return (value - truth) / size, (low - truth) / size, (high - truth) / size


def grouped(rows: list[dict], keys: tuple[str, ...]) -> dict[tuple, list[dict]]:
    groups: dict[tuple, list[dict]] = defaultdict(list)
    for row in rows:
        if row["value"] is not None and row["truth"] == row["truth"]:
            groups[tuple(row[key] for key in keys)].append(row)
    return groups


def binomial(hits: int, total: int) -> tuple[float, float]:
    """Clopper-Pearson 95 % bound."""
    from scipy.stats import beta

    low = 0.0 if hits == 0 else float(beta.ppf(0.025, hits, total - hits + 1))
    high = 1.0 if hits == total else float(beta.ppf(0.975, hits + 1, total - hits))
    return low, high


def cell(rows: list[dict]) -> dict[str, float]:
    error, low, high = errors(rows)
    inside = (low <= 0) & (high >= 0)
    bound = binomial(int(inside.sum()), inside.size)
    oracle = float(np.percentile(np.abs(error), 95))
    return {
        "axes": len(rows),
        "flights": len({row["seed"] for row in rows}),
        "coverage": float(inside.mean()),
        "coverage_low": bound[0],
        "coverage_high": bound[1],
        "bias": float(np.median(error)),
        "p95_error": oracle,
        "median_half_width": float(np.median((high - low) / 2)),
        "width_to_oracle": float(np.median((high - low) / 2) / oracle),
    }


def table(asked: argparse.Namespace) -> None:
    """Print the table, and write it with the seeds where asked."""
    rows = [calibrated(row) for row in read(asked.rows)]
    made = []
    for key, group in sorted(grouped(rows, ("route", "figure", *asked.by)).items(), key=str):
        one = cell(group)
        made.append(dict(zip(("route", "figure", *asked.by), key, strict=True)) | one)
        print(
            f"{' '.join(str(part) for part in key):58s} n {one['flights']:5d}"
            f" coverage {one['coverage']:.3f} ({one['coverage_low']:.3f}-{one['coverage_high']:.3f})"
            f" bias {one['bias']:9.5f} p95 {one['p95_error']:8.5f}"
            f" half width {one['median_half_width']:8.5f} to oracle {one['width_to_oracle']:.2f}"
        )
    if asked.out:
        seeds = sorted({(row["seconds"], row["activity"], row["structure"], row["seed"]) for row in rows})
        whole = {
            "wind": sorted({row["wind"] for row in rows}),
            "flights": len(seeds),
            "seeds": _ranges([seed for *_, seed in seeds]),
            "cells": made,
        }
        Path(asked.out).write_text(json.dumps(whole, indent=1) + "\n")


def _ranges(numbers: list[int]) -> list[list[int]]:
    """First and last of each run of numbers."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return runs


def page(asked: argparse.Namespace) -> None:
    """Print the counted cells as a table of a page."""
    print("\n".join(page_table(json.loads(Path(asked.counted).read_text())["cells"])))


def page_table(cells: list[dict]) -> list[str]:
    """Rows of figures: coverage in per cent, least and most over the cells, and width."""
    head = (
        "route | figure | flights a cell | covered, all | least and most of the nine cells | width to oracle"
    )
    lines = [
        f"| {head} |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for (route, figure), group in _by_figure(cells).items():
        axes = sum(one["axes"] for one in group)
        share = sum(one["axes"] * one["coverage"] for one in group) / axes
        low, high = binomial(round(share * axes), axes)
        least, most = min(one["coverage"] for one in group), max(one["coverage"] for one in group)
        flights = sorted(one["flights"] for one in group)
        lines.append(
            f"| {route} | {figure.replace('_', ' ')} | {flights[0]}-{flights[-1]} | {100 * share:.1f} %"
            f" ({100 * low:.1f}-{100 * high:.1f}) | {100 * least:.0f}-{100 * most:.0f} %"
            f" | {np.median([one['width_to_oracle'] for one in group]):.2f} |"
        )
    return lines


def _by_figure(cells: list[dict]) -> dict[tuple[str, str], list[dict]]:
    groups: dict[tuple[str, str], list[dict]] = defaultdict(list)
    for one in cells:
        groups[one["route"], one["figure"]].append(one)
    return groups


#: Floors and factors tried.
_FACTORS, _FLOORS = np.arange(0.4, 2.01, 0.05), np.arange(0.0, 2.01, 0.05)


def fit(asked: argparse.Namespace) -> None:
    """Propose factors and floors of each route and figure: every cell near 95 %, then narrowest."""
    of_them = [row for row in read(asked.rows, calibration_too=True) if is_calibrated_on(row["seed"])]
    for (route, figure), rows in sorted(grouped(of_them, ("route", "figure")).items()):
        cells = grouped(rows, ("activity", "seconds"))
        factors, floors = np.ones(3), np.zeros(3)
        for _ in range(3):
            for place, activity in enumerate(ACTIVITIES):
                own = [(*errors(g), _shares(g)) for (what, _), g in cells.items() if what == activity]
                factors[place], floors[place] = _fitted(own, factors, floors, place)
        told = ", ".join(f"{number:.2f}" for number in factors)
        print(f'    ("{route}", "{figure}"): (({told}), ({", ".join(f"{n:.3g}" for n in floors)})),')


def _shares(rows: list[dict]) -> np.ndarray:
    """(n, 3) how much of each knot's numbers counts for each flight."""
    saturated = np.array([row["logged_saturated"] for row in rows])
    return np.stack([np.interp(saturated, calibration.KNOTS, unit) for unit in np.eye(3)], axis=1)


def _fitted(counted: list, factors: np.ndarray, floors: np.ndarray, place: int) -> tuple[float, float]:
    """Best factor and floor at one knot, the others kept."""
    base = float(np.median([np.percentile(np.abs(error), 68) for error, *_ in counted]))
    best = (np.inf, 1.0, 0.0)
    for factor in _FACTORS:
        for floor in base * _FLOORS:
            some, more = factors.copy(), floors.copy()
            some[place], more[place] = factor, floor
            best = min(best, (_cost(counted, some, more, base), float(factor), float(floor)))
    return best[1], best[2]


def _cost(counted: list, factors: np.ndarray, floors: np.ndarray, base: float) -> float:
    cost = 0.0
    for error, low, high, shares in counted:
        factor, floor = shares @ factors, 1.96 * (shares @ floors)
        below, above = np.hypot(factor * (error - low), floor), np.hypot(factor * (high - error), floor)
        inside = (error - below <= 0) & (error + above >= 0)
        # misses weigh by the binomial error of the cell, so that small cells do not rule
        cost += (float(inside.mean()) - 0.95) ** 2 / (0.95 * 0.05 / inside.size + 0.003**2)
        cost += 0.05 * float(np.median(below + above)) / base
    return cost


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    acts = parser.add_subparsers(required=True)
    flying = acts.add_parser("run")
    flying.add_argument("--first", type=int, default=200_000)
    flying.add_argument("--flights", type=int, default=7, help="of each cell")
    flying.add_argument("--seconds", type=float, nargs="+", default=list(SECONDS))
    flying.add_argument("--activities", nargs="+", default=list(ACTIVITIES))
    flying.add_argument("--structures", nargs="+", default=list(STRUCTURES))
    flying.add_argument("--wind", type=float, default=1.0)
    flying.add_argument("--workers", type=int, default=2)
    flying.add_argument("--minutes", type=float, default=1e9)
    flying.add_argument("--out", default="rows.jsonl")
    flying.set_defaults(act=run)
    telling = acts.add_parser("table")
    telling.add_argument("rows", nargs="+")
    telling.add_argument("--by", nargs="*", default=["seconds", "activity"])
    telling.add_argument("--out")
    telling.set_defaults(act=table)
    paging = acts.add_parser("page")
    paging.add_argument("counted")
    paging.set_defaults(act=page)
    fitting = acts.add_parser("fit")
    fitting.add_argument("rows", nargs="+")
    fitting.set_defaults(act=fit)
    asked = parser.parse_args()
    asked.act(asked)


if __name__ == "__main__":
    main()
