"""Fly what the planner asks for, with nothing changed, and see whether it sufficed.

``python tools/flights/fly_planned.py --aircraft 60 --out planned.jsonl``. Of each aircraft one flight before
of 60 s at normal activity, the controller known. Two plans from it: *whole*, everything of the three axes,
no scatter stated; *bandwidth*, that of the three axes, with the prior scatter of 2 % and 4 degrees of
freedom, where 2 % are drawn and added to the logarithm of each flight's bandwidths. The flights that the plan
asks for are flown at their length, each with another pilot, air and noise, and judged together. Plans of more
than ``--most`` seconds in all are not flown, and counted.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import population as pop
from count_intervals import STRUCTURES
from count_verdicts import rows_of
from pairs import estimates

from asflown.core.signals import AXES
from asflown.core.verdict.estimate import FlightEstimates
from asflown.core.verdict.flying import FlyingPlan, plan_flying
from asflown.core.verdict.judge import judge
from asflown.core.verdict.margins import DEFAULTS, Margin

FIRST, SECONDS, ACTIVITY, SCATTER = 3_700_000, 60.0, "normal", 0.02
KNOWN = "known controller"
BANDWIDTH = tuple(margin for margin in DEFAULTS if margin.quantity == "axes.{axis}.bandwidth")
#: By name: the margins judged by, what the verdict is told of the scatter, and what is drawn.
PLANS: dict[str, tuple[tuple[Margin, ...], float | None, float]] = {
    "whole": (DEFAULTS, 0.0, 0.0),
    "bandwidth": (BANDWIDTH, None, SCATTER),
}


def estimated(name: str, aircraft: Any, flight: Any, drawn: float) -> FlightEstimates:
    """What a flight says, its bandwidths moved by what was drawn."""
    rows = {
        str(row["axis"]): row
        for row in rows_of({"seconds": float(flight.time[-1])}, aircraft, flight, with_plant=False)
    }
    return estimates(name, rows, KNOWN, factors=dict.fromkeys(AXES, float(np.exp(drawn))))


def one_aircraft(task: tuple[int, str, float]) -> list[dict[str, Any]]:
    """A row for each plan."""
    seed, structure, most = task
    aircraft = pop.draw(seed, structure)
    first = pop.by_hand(seed, structure, SECONDS, ACTIVITY, aircraft=aircraft)
    flight, size = pop.fitted(first, SECONDS, ACTIVITY)
    rows = []
    for place, (name, (margins, told, scatter)) in enumerate(PLANS.items()):
        drawn = scatter * np.random.default_rng((seed, 212)).standard_normal(20)
        before = estimated("before", aircraft, flight, drawn[0])
        plan = plan_flying([before], margins, scatter=told)
        row: dict[str, Any] = {"seed": seed, "structure": structure, "plan": name}
        row |= {"flights": plan.flights, "seconds": plan.seconds, "never": _never(plan)}
        if not plan.never and 0 < plan.flights * plan.seconds <= most:
            after = []
            for number in range(plan.flights):
                again = seed + 100_000_000 * (1 + 10 * place + number)
                later = pop.by_hand(
                    again, structure, plan.seconds, ACTIVITY, log=flight.log, aircraft=aircraft
                )
                done = later(size, plan.seconds)
                after.append(estimated(f"after {number + 1}", aircraft, done, drawn[number + 1]))
            verdict = judge([before], after, margins, scatter=told)
            row |= {
                "outcome": str(verdict.outcome),
                "open": [one.quantity for one in verdict.open],
                "power": plan.power,
            }
        rows.append(row)
    return rows


def _never(plan: FlyingPlan) -> list[str]:
    return [need.quantity for need in plan.never]


def main() -> None:
    """Fly from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=FIRST)
    parser.add_argument("--aircraft", type=int, default=1)
    parser.add_argument("--most", type=float, default=400.0, help="s")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", required=True)
    asked = parser.parse_args()
    begun = time.time()
    work = [
        (asked.first + number, STRUCTURES[number % len(STRUCTURES)], asked.most)
        for number in range(asked.aircraft)
    ]
    with ProcessPoolExecutor(asked.workers) as pool, Path(asked.out).open("a") as out:
        for done, rows in enumerate(pool.map(one_aircraft, work), start=1):
            for row in rows:
                out.write(json.dumps(row) + "\n")
            out.flush()
            print(f"{done} of {len(work)} aircraft, {time.time() - begun:.0f} s", flush=True)


if __name__ == "__main__":
    main()
