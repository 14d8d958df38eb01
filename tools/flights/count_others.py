"""The whole verdict on pairs of equal bandwidth in which something else changed, and on planned flying.

``others``: of each kind that ``fly_others.py`` flew, how often the pair reads as before, differs, or is not
told, what showed it, and how far the farthest true figure of an axis is as a share of its margin.
``planned_flights``: of what ``fly_planned.py`` flew, how often the planned flying sufficed.
"""

from __future__ import annotations

import json
import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from pairs import binomial

from asflown.core.evidence import Evidence
from asflown.core.study.quantities import quantity
from asflown.core.verdict.estimate import FlightEstimates, of_evidence
from asflown.core.verdict.judge import Outcome, judge
from asflown.core.verdict.margins import Weight, margin_of

Row = dict[str, Any]
TOLD: dict[str, float | None] = {"none": 0.0, "prior": None}


def read(path: str) -> dict[int, dict[str, Row]]:
    """Rows by seed and kind; aircraft without a flight before, or cut short, are left out."""
    made: dict[int, dict[str, Row]] = defaultdict(dict)
    for line in Path(path).read_text().splitlines():
        row = json.loads(line)
        made[row["seed"]][row["kind"]] = row
    return {seed: rows for seed, rows in made.items() if "before" in rows}


def estimates(row: Row) -> FlightEstimates:
    """What a flight's evidence says."""
    import msgspec

    return of_evidence(row["kind"], row["seconds"], msgspec.convert(row["evidence"], list[Evidence]))


def farthest(before: Row, after: Row) -> float:
    """Largest true difference of a needed figure of the axes, as a share of its margin."""
    most = 0.0
    for axis, figures in before["truth"].items():
        for figure, was in figures.items():
            try:
                margin = margin_of(f"axes.{axis}.{figure}")
            except ValueError:
                continue
            if margin is None or margin.weight is not Weight.REQUIRED:
                continue
            difference = margin.of(after["truth"][axis][figure]) - margin.of(was)
            if math.isfinite(difference):
                most = max(most, difference / margin.high, difference / margin.low)
    return most


def cells(path: str) -> Iterator[dict[str, object]]:
    """Every kind, without scatter stated and with the priors."""
    aircraft = read(path)
    kinds = [kind for kind in next(iter(aircraft.values())) if kind != "before"]
    before = {seed: estimates(rows["before"]) for seed, rows in aircraft.items()}
    after = {
        (seed, kind): estimates(rows[kind])
        for seed, rows in aircraft.items()
        for kind in kinds
        if "evidence" in rows.get(kind, {})
    }
    for scatter, told in TOLD.items():
        for kind in kinds:
            counts: Counter[str] = Counter()
            showed: Counter[str] = Counter()
            opened: Counter[str] = Counter()
            far, notes = [], Counter()
            for seed, rows in aircraft.items():
                if (seed, kind) not in after:
                    notes[f"left out: {rows[kind]['note']}" if kind in rows else "cut short"] += 1
                    continue
                notes[rows[kind]["note"]] += 1
                verdict = judge([before[seed]], [after[seed, kind]], scatter=told)
                counts[str(verdict.outcome)] += 1
                showed.update({_family(one.quantity) for one in verdict.different})
                opened.update({_family(one.quantity) for one in verdict.open})
                far.append(farthest(rows["before"], rows[kind]))
            total = sum(counts.values())
            yield {
                "kind": kind,
                "scatter_told": scatter,
                "pairs": total,
                **{str(name).replace(" ", "_"): counts[str(name)] for name in Outcome},
                "as_before_bounds": _bounds(counts[str(Outcome.AS_BEFORE)], total),
                "differs_bounds": _bounds(counts[str(Outcome.DIFFERS)], total),
                "farthest_true_axis_figure": [round(float(x), 2) for x in np.percentile(far, [10, 50, 90])],
                "showed": dict(showed.most_common(6)),
                "not_told": dict(opened.most_common(6)),
                "notes": {note: number for note, number in notes.items() if note},
            }


def _bounds(hits: int, total: int) -> list[float]:
    return [round(x, 4) for x in binomial(hits, total)]


def _family(name: str) -> str:
    return quantity(name).name


def planned_cells(path: str) -> Iterator[dict[str, object]]:
    """Each kind of plan."""
    rows = [json.loads(line) for line in Path(path).read_text().splitlines()]
    for name in dict.fromkeys(row["plan"] for row in rows):
        own = [row for row in rows if row["plan"] == name]
        flown = [row for row in own if "outcome" in row]
        hits = sum(row["outcome"] == str(Outcome.AS_BEFORE) for row in flown)
        asked = [(row["flights"], row["seconds"]) for row in flown]
        yield {
            "plan": name,
            "aircraft": len(own),
            "some_quantity_never": sum(bool(row["never"]) for row in own),
            "too_long_to_fly_here": sum(not row["never"] and "outcome" not in row for row in own),
            "flown": len(flown),
            "sufficed": hits,
            "sufficed_bounds": _bounds(hits, len(flown)) if flown else None,
            "differs": sum(row["outcome"] == str(Outcome.DIFFERS) for row in flown),
            "planned": {f"{f} x {s} s": number for (f, s), number in sorted(Counter(asked).items())},
        }
