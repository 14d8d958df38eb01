"""Count how well vibration levels and their changes are measured, over seeds.

``python tools/flights/vibration_run.py --first 5001 --aircraft 75``; seeds add up in the results file.

Each aircraft (seed) flies three flights of ten seconds, activity by seed (low, normal, high): before, after
with nothing changed, after with every rotor's vibration 3 dB up. Each is measured with speed telemetry as
simulated, with telemetry held at 100 Hz, 6 ms late and rounded to 1 rev/s, and without telemetry. A change
above 1.5 dB counts as a rise.

The true level of an order is written down from the aircraft's parameters alone: amplitudes of the rotors at
the reference speed, root two, times the loop's sensitivity ``|1 / (1 + L)|`` at the order's frequencies
(mean square over the flight's speeds, weighed by speed to the fourth).
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import population
import truth as known

from asflown.core.behaviour.simulate import LogSetup, SimulatedFlight
from asflown.core.vibration.compare import level_change
from asflown.core.vibration.measure import measure_vibration
from asflown.core.vibration.result import Vibration

RESULTS = Path(__file__).parents[2] / "benchmarks" / "results" / "vibration.json"
ACTIVITIES = ("low", "normal", "high")
AXES = ("roll", "pitch", "yaw")
RISE = 10.0 ** (3.0 / 20.0)
THRESHOLD = 1.5
WAYS = ("telemetry", "held telemetry", "blind")


def flown(seed: int, parts: tuple, activity: str, rate: float, louder: float = 1.0) -> SimulatedFlight:
    """Ten seconds."""
    airframe, controller = parts
    shaken = replace(
        airframe,
        vibration=tuple(louder * one for one in airframe.vibration),
        accel_vibration=louder * airframe.accel_vibration,
    )
    return population.fly(
        seed, "linear", 10.0, activity, aircraft=(shaken, controller), log=LogSetup(rate=rate)
    )


def measured(flight: SimulatedFlight, way: str) -> Vibration:
    """As the way says."""
    values = flight.values
    speed = None
    if way != "blind":
        names = [name for name in values if name.startswith("rotor_speed.")]
        speed = np.array([values[name] for name in names])
    if way == "held telemetry":
        place = np.arange(speed.shape[1])
        hold = round(flight.log.rate / 100.0)
        late = np.maximum(place // hold * hold - round(0.006 * flight.log.rate), 0)
        speed = np.round(speed[:, late])
    rates = {axis: values[f"rate.{axis}"] for axis in AXES}
    accels = {axis: values[f"accel.{axis}"] for axis in "xyz"}
    return measure_vibration(rates, accels, speed, flight.log.rate)


def true_level(parts: tuple, flight: SimulatedFlight, order: float, axis: int, reference: float) -> float:
    """rad/s rms of an order on an axis at the reference speed."""
    airframe, controller = parts
    amplitude = np.array(airframe.vibration) * (reference / airframe.rotor_speed_full) ** 2
    share = (1.0, 1.0, 0.4)[axis] if order == 1.0 else airframe.harmonic * (1.0, 1.0, 0.4)[axis]
    speeds = np.concatenate([flight.values[f"rotor_speed.{n + 1}"][::97] for n in range(airframe.motors)])
    point = known.of_flight(airframe, controller, flight)
    loop = known.responses(airframe, controller, point, order * speeds.astype(float)).loop[axis]
    weight = speeds.astype(float) ** 4
    sensitivity = float(np.sum(weight / np.abs(1.0 + loop) ** 2) / weight.sum())
    return share * math.sqrt(float(np.sum(amplitude**2)) / 2.0 * sensitivity)


def one(seed: int) -> dict:
    """Figures of one aircraft."""
    parts = population.draw(seed, "linear")
    activity, rate = ACTIVITIES[seed % 3], population.log_rate(seed)
    flights = {
        "before": flown(100_000 + seed, parts, activity, rate),
        "same": flown(200_000 + seed, parts, activity, rate),
        "louder": flown(300_000 + seed, parts, activity, rate, RISE),
    }
    row: dict = {
        "seed": seed,
        "activity": activity,
        "rate_hz": rate,
        "change": {},
        "level": {},
        "speed_error": None,
    }
    for way in WAYS:
        found = {name: measured(flight, way) for name, flight in flights.items()}
        for after in ("same", "louder"):
            changes = level_change(found["before"], found[after])
            for order in ("order 1 rate", "order 2 rate"):
                change = changes.get(order)
                known_ = change is not None and change.value is not None
                row["change"][f"{way}/{after}/{order}"] = (
                    [round(float(x), 3) for x in (change.value, change.low, change.high)] if known_ else None
                )
        if way == "blind" and found["before"].speed is not None:
            turning = np.mean([flights["before"].values[f"rotor_speed.{n + 1}"].mean() for n in range(4)])
            row["speed_error"] = round(float(found["before"].speed - turning), 2)
        if way == "telemetry":
            row["level"] = levels(parts, flights["before"], found["before"])
    return row


def levels(parts: tuple, flight: SimulatedFlight, found: Vibration) -> dict:
    """Measured over true in dB, with the interval, by order and axis; and of each rotor on roll."""
    out = {}

    def told(level, true: float) -> list | None:
        if level.value is None:
            return None
        return [round(20.0 * math.log10(x / true), 3) for x in (level.value, level.low, level.high)]

    for order in (1.0, 2.0):
        line = found.line(order)
        for axis, name in enumerate(AXES):
            true = true_level(parts, flight, order, axis, line.reference_speed)
            out[f"order {order:g} {name}"] = told(line.at_reference[f"rate.{name}"], true)
    whole = true_level(parts, flight, 1.0, 0, found.line(1.0).reference_speed)
    shares = np.array(parts[0].vibration) / np.linalg.norm(parts[0].vibration)
    for rotor in found.rotors:
        if rotor.order == 1.0:
            out[f"rotor {rotor.rotor} roll"] = told(
                rotor.at_reference["rate.roll"], whole * shares[rotor.rotor - 1]
            )
    return out


def bound(count: int, of: int) -> list[float]:
    """95 % Clopper-Pearson interval of a share."""
    from scipy.stats import beta

    low = 0.0 if count == 0 else float(beta.ppf(0.025, count, of - count + 1))
    high = 1.0 if count == of else float(beta.ppf(0.975, count + 1, of - count))
    return [round(low, 4), round(high, 4)]


def of_changes(rows: list[dict], key: str) -> dict:
    """Errors of a way and order, in flights and in activities."""
    way, order = key.split("/")
    out = {}
    for activity in ("all", *ACTIVITIES):
        some = [row["change"] for row in rows if activity in ("all", row["activity"])]
        same = [row[f"{way}/same/{order}"] for row in some]
        louder = [row[f"{way}/louder/{order}"] for row in some]
        same, louder = [x for x in same if x], [x for x in louder if x]
        if not same or not louder:
            continue
        false, missed = sum(x[0] > THRESHOLD for x in same), sum(x[0] < THRESHOLD for x in louder)
        inside = sum(x[1] <= 0.0 <= x[2] for x in same) + sum(x[1] <= 3.0 <= x[2] for x in louder)
        both = len(same) + len(louder)
        out[activity] = {
            "pairs": len(some),
            "no_answer": 2 * len(some) - both,
            "false_alarms": [false, len(same), bound(false, len(same))],
            "misses": [missed, len(louder), bound(missed, len(louder))],
            "null_sd_db": round(float(np.std([x[0] for x in same])), 3),
            "rise_mean_db": round(float(np.mean([x[0] for x in louder])), 3),
            "coverage": [round(inside / both, 4), bound(inside, both)],
        }
    return out


def of_levels(rows: list[dict]) -> dict:
    """Coverage of the levels' intervals."""
    out = {}
    for kind in ("order 1", "order 2", "rotor"):
        found = [x for row in rows for name, x in row["level"].items() if name.startswith(kind) and x]
        none = sum(x is None for row in rows for name, x in row["level"].items() if name.startswith(kind))
        inside = sum(x[1] <= 0.0 <= x[2] for x in found)
        out[kind] = {
            "coverage": [round(inside / len(found), 4), bound(inside, len(found)), len(found)],
            "not_measured": none,
            "bias_db": round(float(np.median([x[0] for x in found])), 3),
            "half_width_db_median": round(float(np.median([(x[2] - x[1]) / 2.0 for x in found])), 3),
            "error_db_median": round(float(np.median([abs(x[0]) for x in found])), 3),
        }
    return out


def main() -> None:
    """Fly, count, write."""
    parser = argparse.ArgumentParser(description="Count errors of vibration levels and their changes.")
    parser.add_argument("--first", type=int, default=5001)
    parser.add_argument("--aircraft", type=int, default=75)
    asked = parser.parse_args()
    rows = [one(seed) for seed in range(asked.first, asked.first + asked.aircraft)]
    before = json.loads(RESULTS.read_text())["aircraft"] if RESULTS.exists() else []
    again = {row["seed"]: row for row in [*before, *rows]}
    rows = [again[seed] for seed in sorted(again)]
    summary = {
        f"{way}/{order}": of_changes(rows, f"{way}/{order}")
        for way in WAYS
        for order in ("order 1 rate", "order 2 rate")
    }
    summary["levels with telemetry"] = of_levels(rows)
    errors = [abs(row["speed_error"]) for row in rows if row["speed_error"] is not None]
    summary["blind speed error, rev/s, median and 95 %"] = [
        round(float(x), 2) for x in np.percentile(errors, (50, 95))
    ]
    RESULTS.parent.mkdir(parents=True, exist_ok=True)
    RESULTS.write_text(json.dumps({"seeds": sorted(again), "summary": summary, "aircraft": rows}) + "\n")
    print(json.dumps(summary, indent=1))


if __name__ == "__main__":
    main()
