"""Pairs of flights of equal bandwidth in which something else changed, measured as a person's flight is.

``python tools/flights/fly_others.py --aircraft 35 --out others.jsonl``. A flight: 40 s of hover, then 60 s of
normal flying. Its log is written and goes through asflown's own reading and measuring, with the controller
declared; a row keeps all evidence of one flight. Each aircraft flies once before and once after each change,
gains solved again so that the true bandwidths of all axes are those of before (``truth.py``, at the operating
point of the flight before), if that can be:

- ``nothing``: only pilot, air and noise are others;
- ``damping``: derivative gain of roll and pitch times what makes the peak sensitivity of one of them differ
  by a quarter or its phase margin by 10 deg (0.25 to 2.5 are tried);
- ``delay``: 2 ms more before the output;
- ``vibration``: 3 dB more of every rotor;
- ``weak motor``: motor 2 has 0.88 of its strength;
- ``feed-forward``: of roll and pitch, taken out, or 0.5 of the inverse plant put in where there was none;
- ``stick``: the middle of the stick's way softer (expo 0.55 for 0.3), for every other aircraft full
  deflection worth 1.15 times the rate.
"""

from __future__ import annotations

import argparse
import io
import json
import math
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import population as pop
import truth as known
from count_intervals import STRUCTURES, true_steps
from count_verdicts import GAINS, WORST, at_bandwidth

from asflown.core.behaviour.declared import KnownController
from asflown.core.behaviour.response.result import UNITS
from asflown.core.behaviour.simulate import Activity, Commands, LogSetup, fly_freely, simulate
from asflown.core.signals import AXES

KINDS = ("nothing", "damping", "delay", "vibration", "weak motor", "feed-forward", "stick")
FIRST = 3_500_000
HOVER, FLOWN = 40.0, 60.0
#: Share of the third power in the stick's curve, as found and softened; and full deflection once more.
EXPO, SOFTER, FULLER = 0.3, 0.55, 1.15
_GRID = np.geomspace(0.3, 120.0, 240)


@dataclass(frozen=True)
class AsTruth(KnownController):
    """A declared controller that answers as ``truth.py`` says: the verdict is judged, not the declaration."""

    flown: Any = None
    place: int = 0

    def response(self, frequencies: Any) -> Any:
        command, rate = known.controllers(self.flown, np.asarray(frequencies))
        return self.scale * command[self.place], self.scale * rate[self.place]


@dataclass(frozen=True)
class Stick:
    """``command = full ((1 - expo) x + expo x^3)`` of the deflection x."""

    full: np.ndarray
    expo: float = EXPO

    def command(self, deflection: np.ndarray) -> np.ndarray:
        """(n, 3) rad/s."""
        x = np.clip(deflection, -1.0, 1.0)
        return self.full * ((1 - self.expo) * x + self.expo * x**3)

    def deflection(self, command: np.ndarray) -> np.ndarray:
        """(n, 3) of the commands, by a fine table."""
        x = np.linspace(0.0, 1.0, 4001)
        share = np.abs(command) / self.full
        found = np.interp(share, (1 - self.expo) * x + self.expo * x**3, x)
        return np.asarray(np.sign(command) * found)


def hand(seed: int, airframe, activity: str, size: float) -> Commands:
    """Hover, then the pilot of the seed, rad/s."""
    throttle = airframe.hover ** (1.0 / airframe.exponent)
    still = fly_freely(np.random.default_rng((seed, 105)), HOVER, Activity.STILL, hover=throttle)
    flown = pop.commands_of(seed, airframe, FLOWN, activity)
    rows = round(HOVER * still.rate)
    values = np.concatenate([still.values[:rows], flown.values * np.array([size, size, size, 1.0])])
    return Commands(flown.rate, values)


def evidence_of(aircraft, seed: int, size: float, found: Stick, now: Stick) -> tuple[Any, Any]:
    """Fly with a stick's curve (``found`` is the one the pilot's commands were drawn for), log, measure."""
    import msgspec
    import polars

    from asflown.adapters.log_file import LogBytes
    from asflown.app.flights.known import Declared
    from asflown.app.flights.measure import measure
    from asflown.app.flights.open_log import Said, open_log

    airframe, controller = aircraft
    commands = hand(seed, airframe, "normal", size)
    commands.values[:, :3] = now.command(np.round(found.deflection(commands.values[:, :3]), 3))
    flight = simulate(airframe, controller, commands, HOVER + FLOWN, seed=seed, log=LogSetup(rate=1000.0))
    columns = dict(flight.values)
    sticks = now.deflection(np.stack([columns[f"rate_command.{axis}"] for axis in AXES], axis=1))
    columns |= {f"stick.{axis}": np.round(sticks[:, place], 3) for place, axis in enumerate(AXES)}
    data = io.BytesIO()
    polars.DataFrame({"time": flight.time, **columns}).write_parquet(data)
    opened = open_log(LogBytes("flight.parquet", data.getvalue()), Said())
    declared = {
        axis: AsTruth(axis, controller.loop_rate, (), flown=controller, place=place)
        for place, axis in enumerate(AXES)
    }
    made = measure(opened, declared=Declared(declared, record="record", release="release"))
    return flight, [msgspec.to_builtins(one) for one in made.study.evidence.values()]


def damped(airframe, controller, point, wanted: np.ndarray, was) -> tuple[Any, str]:
    """The first derivative gain that changes the damping clearly and leaves a loop that one would fly."""
    for times in (0.25, 0.4, 1.8, 2.5, 0.6, 1.4):
        made = replace(controller, kd=tuple(times * gain for gain in controller.kd))
        made, reached = at_bandwidth(airframe, made, point, wanted)
        if not reached.all() or _unsafe(airframe, made, point):
            continue
        now = known.truth(airframe, made, point)
        for axis in AXES[:2]:
            ratio = abs(math.log(now[axis].peak_sensitivity / was[axis].peak_sensitivity))
            if ratio > math.log(1.25) or abs(now[axis].phase_margin - was[axis].phase_margin) > 10.0:
                return made, f"derivative gain times {times:g}"
    return None, "no derivative gain changes the damping clearly and keeps the bandwidth"


def changed(kind: str, number: int, aircraft, point, was, found: Stick) -> tuple[Any, Stick, str]:
    """Aircraft after, its stick, and a note; no aircraft with the reason in the note."""
    airframe, controller = aircraft
    wanted = np.array([was[axis].bandwidth for axis in AXES])
    if kind == "nothing":
        return aircraft, found, ""
    if kind == "vibration":
        louder = 10.0 ** (3.0 / 20.0)
        airframe = replace(
            airframe,
            vibration=tuple(louder * one for one in airframe.vibration),
            accel_vibration=louder * airframe.accel_vibration,
        )
        return (airframe, controller), found, ""
    if kind == "stick":
        now = replace(found, expo=SOFTER) if number % 2 else replace(found, full=FULLER * found.full)
        return aircraft, now, "softer middle" if number % 2 else "full deflection worth more"
    if kind == "damping":
        controller, note = damped(airframe, controller, point, wanted, was)
        return None if controller is None else (airframe, controller), found, note
    note, names = "", GAINS
    if kind == "delay":
        controller = replace(controller, output_delay=controller.output_delay + 0.002)
    elif kind == "weak motor":
        weak = (1.0, 0.88, *(1.0,) * (airframe.motors - 2))
        strength = tuple(one * less for one, less in zip(airframe.strength, weak, strict=True))
        airframe = replace(airframe, strength=strength)
        slopes = tuple(one * less for one, less in zip(point.slopes, weak, strict=True))
        point = replace(point, slopes=slopes)
    elif kind == "feed-forward":
        controller, note, names = _forwarded(airframe, controller, point), "", ("kp", "ki", "kd")
    solved, reached = at_bandwidth(airframe, controller, point, wanted, names)
    if reached.all() and not _unsafe(airframe, solved, point):
        return (airframe, solved), found, note
    if _unsafe(airframe, controller, point):
        return None, found, "nobody would fly it"
    return (airframe, controller), found, "the bandwidth could not be kept"


def _forwarded(airframe, controller, point):
    if any(controller.kf[:2]):
        return replace(controller, kf=(0.0, 0.0, controller.kf[2]))
    slope = float(np.mean(point.slopes))
    added = tuple(0.5 / (airframe.gain[axis] * slope) for axis in range(2))
    return replace(controller, kf=(*added, controller.kf[2]))


def _unsafe(airframe, controller, point) -> bool:
    loop = known.responses(airframe, controller, point, _GRID).loop
    worst = float(np.max(np.abs(1 / (1 + loop))))
    return worst > WORST or not known.is_stable(airframe, controller, point)


def one_aircraft(task: tuple[int, str, int]) -> list[dict[str, Any]]:
    """Fly one aircraft before, and after each change; a row for each flight."""
    seed, structure, number = task
    aircraft = pop.draw(seed, structure)
    size = pop.fitted(pop.by_hand(seed, structure, FLOWN, "normal", aircraft=aircraft), FLOWN, "normal")[1]
    drawn = hand(seed, aircraft[0], "normal", size).values[:, :3]
    found = Stick(np.max(np.abs(drawn), axis=0))
    flight, evidence = evidence_of(aircraft, seed, size, found, found)
    point = known.of_flight(*aircraft, flight)
    was = known.truth(*aircraft, point)
    base = {"seed": seed, "structure": structure, "seconds": HOVER + FLOWN, "size": size}
    rows: list[dict[str, Any]] = [
        {**base, "kind": "before", "truth": _true(aircraft, flight), "evidence": evidence}
    ]
    for place, kind in enumerate(KINDS):
        after, stick, note = changed(kind, number, aircraft, point, was, found)
        row = {**base, "kind": kind, "note": note}
        if after is None:
            rows.append(row)
            continue
        flight, evidence = evidence_of(after, seed + 100_000_000 * (place + 1), size, found, stick)
        rows.append({**row, "truth": _true(after, flight), "evidence": evidence})
    return rows


def _true(aircraft, flight) -> dict[str, dict[str, float]]:
    point = known.of_flight(*aircraft, flight)
    figures, steps = known.truth(*aircraft, point), true_steps(aircraft, point)
    return {
        axis: {name: float(getattr(figures[axis], name)) for name in UNITS} | steps[axis] for axis in AXES
    }


def main() -> None:
    """Fly from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=FIRST)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--aircraft", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", required=True)
    asked = parser.parse_args()
    begun = time.time()
    work = [
        (asked.first + number, STRUCTURES[number % len(STRUCTURES)], number)
        for number in range(asked.start, asked.start + asked.aircraft)
    ]
    with ProcessPoolExecutor(asked.workers) as pool, Path(asked.out).open("a") as out:
        for done, rows in enumerate(pool.map(one_aircraft, work), start=1):
            for row in rows:
                out.write(json.dumps(row) + "\n")
            out.flush()
            print(f"{done} of {len(work)} aircraft, {time.time() - begun:.0f} s", flush=True)


if __name__ == "__main__":
    main()
