"""Count how often limit cycles are found, how soon, and how often falsely.

``python tools/flights/limit_cycle_run.py --first 1001 --aircraft 20 --structure linear``; seeds add up in
the results file.

Each aircraft (seed) flies a healthy minute for the baseline, a healthy minute at low, normal and high
activity, and six seconds at each share of its critical gain: the gain of one axis (roll for even seeds,
pitch for odd) at which the loop of all axes turns unstable at the full pack's voltage, by the winding of
``det(1 + L)`` (bisection on the truth's ``is_stable``). All gains of the axis are scaled together. Found
within two seconds: from the take-over of the gain at the flight's first sample to the last sample the
telling needs.

Three rules are counted on the same flights: the library's, the prototype's settings within the library's
code (1 s frames every 0.125 s, 7 in a row, 14 dB, no look-out for slow frequencies), and the damping of the
lightest pole of an autoregressive model (0.5 s, order 8, 250 Hz), without a baseline.
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

from asflown.core.behaviour.simulate import Airframe, Controller, LogSetup
from asflown.core.vibration.limit_cycle import Detector, limit_cycle, limit_cycle_baseline

RESULTS = Path(__file__).parents[2] / "benchmarks" / "results" / "limit_cycle.json"
SHARES = (0.80, 0.90, 0.95, 0.98, 1.00, 1.02, 1.05)
ACTIVITIES = ("low", "normal", "high")
AXES = ("roll", "pitch", "yaw")
PROTOTYPE = Detector(frame=1.0, hop=0.125, frames=7, stands_out=14.0, slow_more=0.0, wander=3.0)


def scaled(controller: Controller, axis: int, factor: float) -> Controller:
    """The controller with all feedback gains of one axis scaled."""

    def of(gains: tuple[float, float, float]) -> tuple[float, float, float]:
        return tuple(g * factor if a == axis else g for a, g in enumerate(gains))  # type: ignore[return-value]

    return replace(controller, kp=of(controller.kp), ki=of(controller.ki), kd=of(controller.kd))


def critical(airframe: Airframe, controller: Controller, axis: int) -> float:
    """Factor on the gains of an axis at which the loop turns unstable with a full pack in hover."""
    pack = airframe.battery
    volts = pack.full - pack.resistance * (pack.idle_current + pack.full_current * airframe.hover**1.5)
    point = known.at_hover(airframe, controller, volts)
    low, high = 1.0, 16.0
    for _ in range(13):
        middle = math.sqrt(low * high)
        if known.is_stable(airframe, scaled(controller, axis, middle), point):
            low = middle
        else:
            high = middle
    return math.sqrt(low * high)


def pole_told_at(rate: np.ndarray, rate_hz: float) -> float:
    """s at which a pole damped by less than 5 1/s (12 to 105 Hz, above 0.5 deg/s) was seen 7 times on end."""
    spectrum = np.fft.rfft(rate.astype(np.float64))
    frequency = np.fft.rfftfreq(rate.size, 1.0 / rate_hz)
    spectrum[(frequency < 12.0) | (frequency > 115.0)] = 0.0
    count = int(rate.size * 250.0 / rate_hz)
    slow = np.fft.irfft(spectrum[: count // 2 + 1], count) * count / rate.size
    length, hop, order = 125, 16, 8
    run = 0
    for start in range(0, count - length, hop):
        part = slow[start : start + length]
        past = np.lib.stride_tricks.sliding_window_view(part, order + 1)
        weights, *_ = np.linalg.lstsq(past[:, :-1], past[:, -1], rcond=None)
        poles = np.roots(np.concatenate(([1.0], -weights[::-1])))
        damping, at = -np.log(np.abs(poles) + 1e-12) * 250.0, np.abs(np.angle(poles)) * 250.0 / 2.0 / math.pi
        seen = (at > 12.0) & (at < 105.0) & (damping < 5.0)
        run = run + 1 if seen.any() and part.std() > math.radians(0.5) else 0
        if run >= 7:
            return (start + length) / 250.0
    return math.inf


class Aircraft:
    """One seed's flights."""

    def __init__(self, seed: int, structure: str) -> None:
        self.seed, self.structure = seed, structure
        self.parts = population.draw(seed, structure)
        self.axis = seed % 2
        self.log = LogSetup(rate=population.log_rate(seed))
        self.critical = critical(*self.parts, self.axis)

    def fly(self, seed: int, seconds: float, activity: str, share: float | None = None) -> dict:
        airframe, controller = self.parts
        if share is not None:
            controller = scaled(controller, self.axis, share * self.critical)
        flight = population.fly(
            seed, self.structure, seconds, activity, aircraft=(airframe, controller), log=self.log
        )
        rotors = [flight.values[f"rotor_speed.{n + 1}"] for n in range(airframe.motors)]
        return {"rate": flight.values[f"rate.{AXES[self.axis]}"], "speed": np.array(rotors)}


def one(seed: int, structure: str) -> dict:
    """Counts of one aircraft."""
    craft = Aircraft(seed, structure)
    rate_hz = craft.log.rate
    healthy = craft.fly(10_000 + seed, 60.0, "normal")
    rules = {
        "library": (Detector(), True),
        "library, no rotor speed": (Detector(), False),
        "prototype": (PROTOTYPE, True),
    }
    bases = {
        name: limit_cycle_baseline(
            healthy["rate"], rate_hz, rotor_speed=healthy["speed"] if speed else None, detector=how
        )
        for name, (how, speed) in rules.items()
    }

    def told(flight: dict) -> dict:
        out = {}
        for name, (_, speed) in rules.items():
            found = limit_cycle(
                flight["rate"], rate_hz, baseline=bases[name], rotor_speed=flight["speed"] if speed else None
            )
            out[name] = [len(found), found[0].told_at if found else None]
        at = pole_told_at(flight["rate"], rate_hz)
        out["pole"] = [int(math.isfinite(at)), at if math.isfinite(at) else None]
        return out

    sound = {act: told(craft.fly(20_000 + 3 * seed + n, 60.0, act)) for n, act in enumerate(ACTIVITIES)}
    sick = {
        f"{share:.2f}": told(craft.fly(400_000 + 7 * seed + n, 6.0, ACTIVITIES[seed % 3], share))
        for n, share in enumerate(SHARES)
    }
    return {"seed": seed, "critical_db": 20.0 * math.log10(craft.critical), "healthy": sound, "at": sick}


def bound(count: int, of: int, side: str) -> float:
    """One side of the 95 % Clopper-Pearson interval of a share."""
    from scipy.stats import beta

    if side == "low":
        return 0.0 if count == 0 else float(beta.ppf(0.025, count, of - count + 1))
    return 1.0 if count == of else float(beta.ppf(0.975, count + 1, of - count))


def summary(rows: list[dict]) -> dict:
    """Shares found, shares found within 2 s, false alarms an hour."""
    out: dict = {}
    for rule in rows[0]["healthy"]["low"]:
        found = {}
        for share in rows[0]["at"]:
            at = [row["at"][share][rule][1] for row in rows]
            any_, soon = sum(a is not None for a in at), sum(a is not None and a <= 2.0 for a in at)
            found[share] = {
                "found": any_,
                "within_2_s": soon,
                "of": len(at),
                "within_2_s_95": [
                    round(bound(soon, len(at), "low"), 3),
                    round(bound(soon, len(at), "high"), 3),
                ],
                "median_s": round(float(np.median([a if a is not None else 99.0 for a in at])), 2),
            }
        false = {act: sum(row["healthy"][act][rule][0] for row in rows) for act in ACTIVITIES}
        out[rule] = {"at_share_of_critical_gain": found, "false_alarms": false, "minutes_each": len(rows)}
    return out


def main() -> None:
    """Fly, count, write."""
    parser = argparse.ArgumentParser(description="Count limit cycles found, and found falsely.")
    parser.add_argument("--first", type=int, default=1001)
    parser.add_argument("--aircraft", type=int, default=20)
    parser.add_argument("--structure", default="linear")
    asked = parser.parse_args()
    rows = [one(seed, asked.structure) for seed in range(asked.first, asked.first + asked.aircraft)]
    known_before = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    before = known_before.get(asked.structure, {}).get("aircraft", [])
    again = {row["seed"]: row for row in [*before, *rows]}
    rows = [again[seed] for seed in sorted(again)]
    known_before[asked.structure] = {"seeds": sorted(again), "summary": summary(rows), "aircraft": rows}
    RESULTS.parent.mkdir(parents=True, exist_ok=True)
    RESULTS.write_text(json.dumps(known_before) + "\n")
    key = asked.structure
    for rule, part in known_before[key]["summary"].items():
        print(rule, "false alarms", part["false_alarms"], "in", part["minutes_each"], "min each")
        for share, one_ in part["at_share_of_critical_gain"].items():
            print("  ", share, one_)


if __name__ == "__main__":
    main()
