"""How often the verdict is right: pairs of flights before and after a known change of bandwidth.

``python tools/flights/count_verdicts.py fly --aircraft 20 --out rows.jsonl`` flies and measures. Cells: 20
and 60 s at low, normal and high activity; structures in turn. Of each aircraft and cell one flight before,
and one after for each level: the gains of every axis scaled so that its true bandwidth (``truth.py``) at the
operating point of the flight before is the level's. Levels 0, both edges of the margin (ln 1.15) and ±20 %
for every aircraft, ±5, ±10 and -40 % for every fifth, +40 % for every third. An axis whose loop would be
unstable or whose peak sensitivity would pass 4 keeps its gains and is left out, and said so in a row of its
own (aircraft 0 to 199 of each cell: the whole level was left out, +40 % was flown by every fifth). Flights
after have another pilot, other air and other noise.

Rows hold the figures of both routes with the intervals that asflown gives, the truth, and for flights before
the fitted plant, from which predictions are counted (``count_predictions.py``).

``count rows.jsonl …`` judges every pair and writes rates with exact binomial bounds. The scatter between
flights of 2 % is not flown: it is drawn and added to the logarithm of every measured bandwidth.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import population as pop
import truth as known
from count_intervals import ACTIVITIES, STRUCTURES, true_steps

from asflown.core.behaviour.handling import rate_response
from asflown.core.behaviour.response.axis import measure_axes
from asflown.core.behaviour.response.result import UNITS
from asflown.core.motors.mixer import mixer_from
from asflown.core.signal.timebase import even_parts
from asflown.core.signals import AXES

SECONDS = (20.0, 60.0)
#: Logarithms of the ratio of bandwidths: for every aircraft, and for every fifth.
EDGE = math.log(1.15)
ALWAYS = {"0": 0.0, "+edge": EDGE, "-edge": -EDGE, "+20": math.log(1.2), "-20": math.log(0.8)}
SELDOM = {f"{sign * size:+d}": math.log(1 + sign * size / 100) for size in (5, 10, 40) for sign in (1, -1)}
EVERY = 5
EVERY_MOST = 3
#: Peak sensitivity from which on nobody would fly.
WORST = 4.0
#: Gains that are scaled together.
GAINS = ("kp", "ki", "kd", "kf")
FIRST = 3_000_000
_GRID = np.geomspace(0.3, 120.0, 240)


def scaled(controller, factors: np.ndarray, names: tuple[str, ...] = GAINS):
    """The controller with gains of each axis times a factor."""
    gains = {
        name: tuple(float(g * f) for g, f in zip(getattr(controller, name), factors, strict=True))
        for name in names
    }
    return replace(controller, **gains)


def at_bandwidth(airframe, controller, point, wanted: np.ndarray, names: tuple[str, ...] = GAINS):
    """Gains scaled until the bandwidth of each axis (3,), Hz, is the wanted one; secant in logarithms.

    Returns
    -------
    Controller, ndarray
        And (3,) whether each axis got there.
    """

    def reached(factors: np.ndarray) -> np.ndarray:
        response = known.responses(airframe, scaled(controller, factors, names), point, _GRID).response
        return np.log(rate_response(_GRID, response).bandwidth_phase)

    target = np.log(wanted)
    before, now = np.zeros(3), np.full(3, 0.02)
    was, is_ = reached(np.exp(before)), reached(np.exp(now))
    for _ in range(12):
        slope = np.where(np.abs(now - before) > 1e-12, (is_ - was) / (now - before + 1e-300), 1.0)
        slope = np.where(np.abs(slope) < 0.1, 1.0, slope)
        step = np.clip((target - is_) / slope, -0.4, 0.4)
        before, was = now, is_
        now = now + step
        is_ = reached(np.exp(now))
        if np.all(np.abs(is_ - target) < 1e-6):
            break
    return scaled(controller, np.exp(now), names), np.abs(is_ - target) < 1e-4


def measured(aircraft, flight):
    """The axes of a flight, by both routes."""
    names = [f"{kind}.{axis}" for kind in ("rate_command", "rate", "control") for axis in AXES]
    motors = [f"motor.{n}" for n in range(1, aircraft[0].motors + 1)]
    parts = even_parts(flight.to_flight(), [*names, *motors, "pack_voltage"])
    values = parts[0].values

    def stack(kind: str) -> np.ndarray:
        return np.stack([values[f"{kind}.{axis}"] for axis in AXES])

    mixer = mixer_from(
        np.stack([values[name] for name in motors]),
        stack("control"),
        stack("rate"),
        parts[0].rate,
        commands=stack("rate_command"),
    )

    def controller(axis: int):
        def response(frequencies):
            command, rate = known.controllers(aircraft[1], frequencies)
            return command[axis], rate[axis]

        return response

    return measure_axes(parts, mixer.matrix, known={axis: controller(i) for i, axis in enumerate(AXES)})


def rows_of(cell: dict[str, object], aircraft, flight, *, with_plant: bool) -> Iterator[dict[str, object]]:
    """A row for each axis."""
    point = known.of_flight(*aircraft, flight)
    truth, steps = known.truth(*aircraft, point), true_steps(aircraft, point)
    for axis, result in measured(aircraft, flight).items():
        row: dict[str, object] = {**cell, "axis": axis, "saturated": result.saturated_share}
        row["truth"] = {name: float(getattr(truth[axis], name)) for name in UNITS} | steps[axis]
        row["routes"] = {
            route: {
                name: [number.value, number.low, number.high]
                for name, number in {
                    **figures.figures,
                    "overshoot": figures.overshoot,
                    "rise_time": figures.rise_time,
                }.items()
                if number is not None and number.value is not None
            }
            for route, figures in result.routes.items()
        }
        if with_plant and result.identified is not None:
            row["identified"] = asdict(result.identified)
            row["point"] = asdict(point)
        yield row


def one_aircraft(task: tuple[int, str, float, str, int]) -> list[dict[str, object]]:
    """Fly one aircraft before, and after at every level."""
    seed, structure, seconds, activity, number = task
    airframe, controller = pop.draw(seed, structure)
    cell: dict[str, object] = {
        "seed": seed,
        "structure": structure,
        "seconds": seconds,
        "activity": activity,
    }
    flown = pop.by_hand(seed, structure, seconds, activity, aircraft=(airframe, controller))
    flight, size = pop.fitted(flown, seconds, activity)
    rows = list(rows_of({**cell, "level": "before"}, (airframe, controller), flight, with_plant=True))
    point = known.of_flight(airframe, controller, flight)
    was = known.truth(airframe, controller, point)
    bandwidths = np.array([was[axis].bandwidth for axis in AXES])
    levels = ALWAYS | {
        level: ratio
        for level, ratio in SELDOM.items()
        if number % (EVERY_MOST if level == "+40" else EVERY) == 0
    }
    for place, (level, ratio) in enumerate(levels.items()):
        after, reasons = at_level(airframe, controller, point, bandwidths, ratio)
        rows += [{**cell, "level": level, "axis": axis, "left_out": why} for axis, why in reasons.items()]
        if len(reasons) == len(AXES):
            continue
        again = seed + 100_000_000 * (place + 1)
        log = flight.log
        later = pop.by_hand(again, structure, seconds, activity, log=log, aircraft=(airframe, after))
        done = later(size, seconds)
        made = rows_of({**cell, "level": level}, (airframe, after), done, with_plant=False)
        rows += [row for row in made if row["axis"] not in reasons]
    return rows


def at_level(airframe, controller, point, bandwidths: np.ndarray, ratio: float):
    """The controller of a level, and by axis why it is not flown there (its gains are then as before)."""
    reasons: dict[str, str] = {}
    for _ in range(len(AXES) + 1):
        kept = np.array([axis in reasons for axis in AXES])
        wanted = bandwidths * np.exp(np.where(kept, 0.0, ratio))
        after, reached = at_bandwidth(airframe, controller, point, wanted)
        found = faults(airframe, controller, after, point, reached)
        found = {axis: why for axis, why in found.items() if axis not in reasons}
        if not found:
            return after, reasons
        reasons |= found
    return controller, dict.fromkeys(AXES, "no gains lead there")


def faults(airframe, controller, after, point, reached: np.ndarray) -> dict[str, str]:
    """Why nobody would fly an axis."""
    worst = np.max(np.abs(1 / (1 + known.responses(airframe, after, point, _GRID).loop)), axis=1)
    found: dict[str, str] = {}
    for place, axis in enumerate(AXES):
        if not reached[place]:
            found[axis] = "no gains lead there"
        elif worst[place] > WORST:
            found[axis] = f"peak sensitivity {worst[place]:.1f}"
        elif not known.is_stable(airframe, _only(controller, after, place), point):
            found[axis] = "unstable"
    if not found and not known.is_stable(airframe, after, point):
        return dict.fromkeys(AXES, "unstable together")
    return found


def _only(controller, after, place: int):
    """Gains of one axis as after, of the others as before."""
    gains = {
        name: tuple(
            getattr(after if number == place else controller, name)[number] for number in range(len(AXES))
        )
        for name in GAINS
    }
    return replace(after, **gains)


def tasks(asked: argparse.Namespace) -> Iterator[tuple[int, str, float, str, int]]:
    """Cells in turn, so that a run cut short is even."""
    for number in range(asked.start, asked.start + asked.aircraft):
        for place, (seconds, activity) in enumerate((s, a) for s in SECONDS for a in ACTIVITIES):
            seed = asked.first + 1000 * place + number
            yield seed, STRUCTURES[number % len(STRUCTURES)], seconds, activity, number


def fly(asked: argparse.Namespace) -> None:
    """Fly and measure; rows are appended as they come."""
    begun, flights, work = time.time(), 0, list(tasks(asked))
    with ProcessPoolExecutor(asked.workers) as pool, Path(asked.out).open("a") as out:
        for done, rows in enumerate(pool.map(one_aircraft, work), start=1):
            for row in rows:
                out.write(json.dumps(row) + "\n")
            out.flush()
            flights += len({row["level"] for row in rows if "left_out" not in row})
            if time.time() - begun > asked.minutes * 60:
                pool.shutdown(wait=False, cancel_futures=True)
                break
            if done % 20 == 0:
                print(f"{done} of {len(work)}, {flights} flights, {time.time() - begun:.0f} s", flush=True)


def main() -> None:
    """Fly, or count."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parts = parser.add_subparsers(required=True)
    flying = parts.add_parser("fly", help="fly and measure")
    flying.add_argument("--first", type=int, default=FIRST)
    flying.add_argument("--start", type=int, default=0, help="number of the first aircraft")
    flying.add_argument("--aircraft", type=int, default=1, help="in each cell")
    flying.add_argument("--minutes", type=float, default=1e9)
    flying.add_argument("--workers", type=int, default=2)
    flying.add_argument("--out", required=True)
    flying.set_defaults(act=fly)
    asked = parser.parse_args()
    asked.act(asked)


if __name__ == "__main__":
    main()
