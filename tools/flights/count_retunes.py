"""How well retunes keep the old answer, counted on simulated aircraft and judged by ``truth.py``.

``python tools/flights/count_retunes.py rows.jsonl --out benchmarks/results/retune.json`` takes the flights
before that ``count_verdicts.py fly`` flew (60 s, normal activity), each with its identified plant. A naive
copy has derivative gains 8 times too large (most are unstable) or at a quarter (sluggish), or filters at half
their frequency. The new release filters the gyro in the *same order* as the old one, or in the *other order*
(one pole where there were two, or the other way round), which nothing makes up for exactly. Its steps are 1 %
of the old values, which lie half a step beside them. It is retuned on the true plant, coupled axes left out,
and on the identified one; gains alone, and gains and filters.

Every outcome is measured on the true aircraft at the operating point of the flight, three axes coupled:
largest differences of the answer to commands over 0.5 to 25 Hz, ratios after over before of peak sensitivity,
noise to the motors, bandwidth and crossover, the largest loss of loop gain below half the old crossover, and
stability. A refused retune proposes nothing and is counted as refused.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1] / "tests" / "core" / "behaviour" / "retune")]

import aircraft as bench
import population as pop
import truth as known
from count_pairs import lines, ranges
from pairs import Aircraft, binomial, read

from asflown.core.behaviour.predict.plants import plants
from asflown.core.behaviour.retune.knobs import Limits, knobs_of
from asflown.core.behaviour.retune.loops import GRID
from asflown.core.behaviour.retune.tasks import AxisTask, retune_axes
from asflown.core.identified import Identified
from asflown.core.signals import AXES

Row = dict[str, Any]
ORDERS = ("same order", "other order")
#: Steps as a share of the old values.
STEP = 0.01
PLANTS = ("true", "identified")
#: dB and deg within which the old answer counts as kept, and what is aimed at.
KEPT, AIM = (0.5, 4.0), (0.2, 2.5)
#: Truth and asflown read peak and noise off different grids: so far they may differ, as a share.
SAME = 1e-3
_BAND = np.geomspace(0.5, 25.0, 300)


@dataclass(frozen=True)
class _Structure:
    """What ``aircraft.carried`` draws from."""

    structure: str

    def draw(self, seed: int, _: str) -> Any:
        return pop.draw(seed, self.structure)


@dataclass(frozen=True)
class Flown:
    """One aircraft with its operating point; the new release is made by ``aircraft.carried``."""

    one: Aircraft

    @cached_property
    def point(self) -> Any:
        first = next(iter(self.one.before.values()))
        return known.OperatingPoint(tuple(first["point"]["slopes"]), first["point"]["compensation"])

    def carried(self, order: str) -> bench.Carried:
        """With the new release."""
        structure = _Structure(self.one.structure)
        return bench.carried(structure, known, self.one.seed, other=order == "other order")

    def plant(self, made: bench.Carried, axis: str, kind: str) -> Any:
        """(nf,) at ``GRID``."""
        if kind == "true":
            responses = known.responses(made.airframe, made.controller, self.point, GRID)
            return responses.plant[AXES.index(axis)]
        import msgspec

        found = msgspec.convert(self.one.before[axis]["identified"], Identified)
        return plants(found, GRID)[0]


def one_aircraft(one: Aircraft) -> list[Row]:
    """A row for each retune, with a measure of each axis."""
    flown, rows = Flown(one), []
    for order, case in itertools.product(ORDERS, bench.CASES):
        made = flown.carried(order)
        values = bench.case(made, case)
        base = {"seed": one.seed, "structure": one.structure, "order": order, "case": case}
        rows.append({**base, "plant": "none", "turned": "nothing", **measured(flown, made, values)})
        limits = {
            role: Limits(0.0, math.inf, STEP * value, 0.5 * STEP * value)
            for role, value in made.old_values.items()
        }
        knobs = knobs_of(made.structures, values, values, limits)
        for kind in PLANTS:
            tasks = {}
            for axis in AXES:
                plant = flown.plant(made, axis, kind)
                tasks[axis] = AxisTask(plant, made.old(axis), plant)
            for filters in (False, True):
                begun = time.perf_counter()
                found = retune_axes(tasks, made.structures, values, values, knobs, filters=filters)
                row = {
                    **base,
                    "plant": kind,
                    "turned": "gains and filters" if filters else "gains",
                    "seconds": time.perf_counter() - begun,
                    "good": found.is_good,
                    "refused": found.refusal,
                    "moved": len(found.values),
                }
                if found.refusal is None:
                    row |= measured(flown, made, {**values, **found.values})
                rows.append(row)
    return rows


def measured(flown: Flown, made: bench.Carried, values: dict[str, float]) -> Row:
    """Of the true aircraft with values of the new release: stability, and by axis what changed."""
    after, point = made.with_values(values), flown.point
    if not known.is_stable(made.airframe, after, point):
        return {"stable": False}
    sides = made.controller, after
    answers = [known.responses(made.airframe, side, point, _BAND) for side in sides]
    figures = [known.truth(made.airframe, side, point) for side in sides]
    noises = [bench.noise(known, side) for side in sides]
    axes = {}
    for place, axis in enumerate(AXES):
        ratio = answers[1].response[place] / answers[0].response[place]
        was, now = figures[0][axis], figures[1][axis]
        low = 0.5 * was.crossover >= _BAND
        gains = 20.0 * np.log10(np.abs(answers[1].loop[place] / answers[0].loop[place]))
        axes[axis] = {
            "decibels": float(np.max(np.abs(20.0 * np.log10(np.abs(ratio))))),
            "degrees": float(np.max(np.abs(np.degrees(np.angle(ratio))))),
            "peak": now.peak_sensitivity / was.peak_sensitivity,
            "noise": float(noises[1][place] / noises[0][place]),
            "bandwidth": now.bandwidth / was.bandwidth,
            "crossover": now.crossover / was.crossover,
            "phase_margin": now.phase_margin - was.phase_margin,
            "loop_gain": float(np.min(gains[low])) if np.any(low) else None,
        }
    return {"stable": True, "axes": axes}


def cells(rows: list[Row]) -> Iterator[dict[str, object]]:
    """Every case, plant and what was turned, linear aircraft apart."""
    groups: dict[tuple[str, ...], list[Row]] = defaultdict(list)
    for row in rows:
        for among in ("all", *(("linear",) if row["structure"] == "linear" else ())):
            groups[among, row["order"], row["case"], row["plant"], row["turned"]].append(row)
    for key, group in sorted(groups.items()):
        yield dict(zip(("structures", "order", "case", "plant", "turned"), key, strict=True)) | _told(group)


def _told(group: list[Row]) -> dict[str, object]:
    """Counts with bounds, and percentiles over axes of those that are stable."""
    flown = [row for row in group if not row.get("refused")]
    stable = [row for row in flown if row["stable"]]
    axes = [one for row in stable for one in row["axes"].values()]
    made: dict[str, object] = {
        "retunes": len(group),
        "refused": len(group) - len(flown),
        "stable": len(stable),
        "unstable": len(flown) - len(stable),
        "unstable_bounds": _bounds(len(flown) - len(stable), len(flown)),
        "axes": len(axes),
    }
    for name in ("decibels", "degrees", "peak", "noise", "bandwidth", "crossover"):
        made[name] = _spread([one[name] for one in axes])
    made["phase_margin"] = _spread([one["phase_margin"] for one in axes])
    made["loop_gain"] = _spread([one["loop_gain"] for one in axes if one["loop_gain"] is not None])
    for name, (decibels, degrees) in (("kept", KEPT), ("within_aim", AIM)):
        hits = sum(
            all(one["decibels"] <= decibels and one["degrees"] <= degrees for one in row["axes"].values())
            for row in stable
        )
        made[name] = [hits, *_bounds(hits, len(group))]
    for name in ("peak", "noise"):
        worse = sum(one[name] > 1.0 + SAME for one in axes)
        made[f"{name}_worse"] = [worse, *_bounds(worse, len(axes))]
    for share in (0.05, 0.1, 0.2):
        falls = sum(one["crossover"] < 1.0 - share for one in axes)
        made[f"crossover_less_by_{share:g}"] = [falls, *_bounds(falls, len(axes))]
    if "seconds" in group[0]:
        made["seconds"] = _spread([row["seconds"] for row in group])
    return made


def _spread(values: list[float]) -> list[float] | None:
    """5, 50, 95 % and the largest."""
    finite = [one for one in values if math.isfinite(one)]
    if not finite:
        return None
    return [float(f"{x:.4g}") for x in (*np.percentile(finite, [5, 50, 95]), max(finite))]


def _bounds(hits: int, total: int) -> list[float]:
    return [round(x, 4) for x in binomial(hits, total)] if total else [0.0, 1.0]


def count(asked: argparse.Namespace) -> None:
    """Retune, measure, print, write."""
    chosen = [one for one in read(asked.rows) if (one.seconds, one.activity) == (60.0, "normal")]
    chosen = [one for one in chosen if all("identified" in row for row in one.before.values())]
    chosen = chosen[: asked.aircraft]
    begun, rows = time.time(), []
    with ProcessPoolExecutor(asked.workers) as pool:
        for done, made in enumerate(pool.map(one_aircraft, chosen), start=1):
            rows += made
            if done % 10 == 0:
                print(f"{done} of {len(chosen)} aircraft, {time.time() - begun:.0f} s", flush=True)
    told: dict[str, object] = {
        "aircraft": len(chosen),
        "seeds": ranges([one.seed for one in chosen]),
        "percentiles": [5, 50, 95, 100],
        "cells": list(cells(rows)),
    }
    if asked.kept:
        Path(asked.kept).write_text("".join(json.dumps(row) + "\n" for row in rows))
    for one in told["cells"]:  # type: ignore[attr-defined]
        print(json.dumps(one))
    if asked.out:
        Path(asked.out).write_text(lines(told))


def main() -> None:
    """Count from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("rows", nargs="+")
    parser.add_argument("--aircraft", type=int, default=105, help="at most")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out")
    parser.add_argument("--kept", help="file for the rows, to look into")
    count(parser.parse_args())


if __name__ == "__main__":
    main()
