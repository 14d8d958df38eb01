"""Pairs of flights with another controller, log or way of flying, to see whether errors of differences hold.

``python tools/flights/fly_refits.py fly --aircraft 42 --out rows.jsonl``. Of each aircraft one flight before
(60 s, normal activity) and one after each of:

- ``filters``: gyro filters of another order at 0.6 of their frequency, derivative filters at 0.7, gains
  solved again for the same bandwidths;
- ``loop rate``: half of it (of 2 kHz: twice), filters and gains in SI as before;
- ``derivative``: half or twice the derivative gain, in turn;
- ``log rate``: logged at 500 Hz (of 500 Hz: 1000);
- ``log means``: logged rates are means over the loop's steps since the row before, which is half a row later;
- ``low``, ``high``: other activity;
- ``short``: 20 s.

Changes that nobody would fly are left out (``count_verdicts.faults``). ``count rows.jsonl`` tells how often
the interval of a difference (:mod:`asflown.core.verdict.paired`) holds the true one, each flight at its own
operating point.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import population as pop
import truth as known
from count_intervals import STRUCTURES
from count_pairs import lines, ranges
from count_verdicts import at_bandwidth, faults, rows_of
from paired_errors import FIGURES
from pairs import ROUTES, binomial, estimates

from asflown.core.behaviour.simulate import Controller, FilterKind, LogSetup
from asflown.core.signals import AXES
from asflown.core.verdict.margins import margin_of
from asflown.core.verdict.sides import numbers_of, shared

FIRST, SECONDS, ACTIVITY = 3_860_000, 60.0, "normal"
Row = dict[str, Any]
KINDS = ("filters", "loop rate", "derivative", "log rate", "log means", "low", "high", "short")
_OTHER = {FilterKind.ONE_POLE: FilterKind.LOW_PASS, FilterKind.LOW_PASS: FilterKind.ONE_POLE}


@dataclass(frozen=True)
class After:
    """What flies after."""

    controller: Controller
    log: LogSetup
    seconds: float = SECONDS
    activity: str = ACTIVITY


def changed(kind: str, number: int, aircraft: Any, point: Any, log: LogSetup) -> After | None:
    """The flight after; ``None``: nobody would fly it."""
    airframe, controller = aircraft
    if kind in ("low", "high"):
        return After(controller, log, activity=kind)
    if kind == "short":
        return After(controller, log, seconds=20.0)
    if kind == "log rate":
        return After(controller, replace(log, rate=1000.0 if log.rate == 500.0 else 500.0))
    if kind == "log means":
        return After(controller, replace(log, averaged=True))
    if kind == "filters":
        gyro = tuple(
            replace(one, kind=_OTHER[one.kind], frequency=0.6 * one.frequency) if one.kind in _OTHER else one
            for one in controller.gyro_filters
        )
        slope = tuple(replace(one, frequency=0.7 * one.frequency) for one in controller.d_filters)
        was = known.truth(airframe, controller, point)
        wanted = np.array([was[axis].bandwidth for axis in AXES])
        made = replace(controller, gyro_filters=gyro, d_filters=slope)
        made, reached = at_bandwidth(airframe, made, point, wanted)
        return None if faults(airframe, controller, made, point, reached) else After(made, log)
    if kind == "loop rate":
        made = replace(controller, loop_rate=2000.0 if controller.loop_rate > 2000.0 else 4000.0)
    else:
        times = 2.0 if number % 2 else 0.5
        made = replace(controller, kd=tuple(times * gain for gain in controller.kd))
    if kind == "loop rate" and log.rate > 1000.0:
        log = replace(log, rate=1000.0)
    unsafe = faults(airframe, controller, made, point, np.ones(3, dtype=bool))
    return None if unsafe else After(made, log)


def one_aircraft(task: tuple[int, str, int]) -> list[Row]:
    """Rows of all flights of one aircraft, by axis."""
    seed, structure, number = task
    airframe, controller = pop.draw(seed, structure)
    first = pop.by_hand(seed, structure, SECONDS, ACTIVITY, aircraft=(airframe, controller))
    flight, size = pop.fitted(first, SECONDS, ACTIVITY)
    point = known.of_flight(airframe, controller, flight)
    cell: Row = {"seed": seed, "structure": structure, "seconds": SECONDS, "activity": ACTIVITY}
    rows = list(rows_of({**cell, "level": "before"}, (airframe, controller), flight, with_plant=False))
    for place, kind in enumerate(KINDS):
        after = changed(kind, number, (airframe, controller), point, flight.log)
        if after is None:
            rows.append({**cell, "level": kind, "left_out": "nobody would fly it"})
            continue
        flown = pop.by_hand(
            seed + 100_000_000 * (place + 1),
            structure,
            after.seconds,
            after.activity,
            log=after.log,
            aircraft=(airframe, after.controller),
        )
        done = (
            flown(size, after.seconds)
            if after.activity == ACTIVITY
            else pop.fitted(flown, after.seconds, after.activity)[0]
        )
        rows += rows_of(
            {**cell, "level": kind, "flown": after.seconds},
            (airframe, after.controller),
            done,
            with_plant=False,
        )
    return rows


def fly(asked: argparse.Namespace) -> None:
    """Fly and measure; rows are appended as they come."""
    begun = time.time()
    numbers = range(asked.start, asked.start + asked.aircraft)
    work = [(FIRST + number, STRUCTURES[number % len(STRUCTURES)], number) for number in numbers]
    with ProcessPoolExecutor(asked.workers) as pool, Path(asked.out).open("a") as out:
        for done, rows in enumerate(pool.map(one_aircraft, work), start=1):
            out.writelines(json.dumps(row) + "\n" for row in rows)
            out.flush()
            print(f"{done} of {len(work)} aircraft, {time.time() - begun:.0f} s", flush=True)


def read(path: str) -> dict[int, dict[str, dict[str, Row]]]:
    """Rows by seed, kind and axis; what was left out has none."""
    made: dict[int, dict[str, dict[str, Row]]] = defaultdict(lambda: defaultdict(dict))
    for line in Path(path).read_text().splitlines():
        row = json.loads(line)
        if "axis" in row:
            made[row["seed"]][row["level"]][row["axis"]] = row
    return made


def cells(path: str) -> Iterator[dict[str, object]]:
    """By kind, route and figure."""
    aircraft = read(path)
    for kind in KINDS:
        for route in ROUTES:
            for figure in FIGURES:
                errors, alike = [], 0
                for rows in aircraft.values():
                    for axis in rows[kind]:
                        found = over_error(rows["before"][axis], rows[kind][axis], route, figure)
                        if found is not None:
                            errors.append(found[0])
                            alike += found[1]
                total = len(errors)
                held = sum(abs(one) < 1.96 for one in errors)
                yield {
                    "kind": kind,
                    "route": route,
                    "figure": figure,
                    "pairs": total,
                    "errors_of_comparisons": alike,
                    "held_95": [round(held / total, 4), *(round(x, 4) for x in binomial(held, total))],
                    "held_90": round(sum(abs(one) < 1.645 for one in errors) / total, 4),
                }


def over_error(before: Row, after: Row, route: str, figure: str) -> tuple[float, bool] | None:
    """Error of a measured difference over its standard error, and whether that is a comparison's."""
    name = f"axes.{before['axis']}.{figure}"
    margin = margin_of(name)
    assert margin is not None
    sides = [
        [estimates(word, {row["axis"]: row}, route)] for word, row in (("before", before), ("after", after))
    ]
    truth = [margin.of(row["truth"][figure]) for row in (before, after)]
    beside = shared(name, *sides)
    found = [numbers_of(name, ROUTES[route], side, margin, beside) for side in sides]
    if not all(found) or not all(math.isfinite(x) for x in truth):
        return None
    was, now = found[0][0], found[1][0]
    error = math.hypot(was.error, now.error)
    if not math.isfinite(now.value - was.value) or not error > 0.0:
        return None
    return (now.value - was.value - truth[1] + truth[0]) / error, beside is not None


def count(asked: argparse.Namespace) -> None:
    """Count, print, write."""
    aircraft = read(asked.rows)
    made: dict[str, object] = {
        "aircraft": len(aircraft),
        "seeds": ranges(list(aircraft)),
        "left_out": {
            kind: sum(kind not in rows or not rows[kind] for rows in aircraft.values()) for kind in KINDS
        },
        "cells": list(cells(asked.rows)),
    }
    for one in made["cells"]:  # type: ignore[attr-defined]
        print(json.dumps(one))
    if asked.out:
        Path(asked.out).write_text(lines(made))


def main() -> None:
    """Fly, or count."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parts = parser.add_subparsers(required=True)
    flying = parts.add_parser("fly", help="fly and measure")
    flying.add_argument("--start", type=int, default=0)
    flying.add_argument("--aircraft", type=int, default=1)
    flying.add_argument("--workers", type=int, default=1)
    flying.add_argument("--out", required=True)
    flying.set_defaults(act=fly)
    counting = parts.add_parser("count", help="how often intervals hold")
    counting.add_argument("rows")
    counting.add_argument("--out")
    counting.set_defaults(act=count)
    asked = parser.parse_args()
    asked.act(asked)


if __name__ == "__main__":
    main()
