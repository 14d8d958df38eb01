"""How often the verdict on a pair of flights is right.

``python tools/flights/count_pairs.py rows.jsonl --out benchmarks/results/verdict.json`` judges the pairs that
``count_verdicts.py fly`` flew, writes rates with exact binomial bounds (Clopper-Pearson, 95 %) and prints a
table.

- *bandwidth*: bandwidth of one axis alone; one pair of flights is three pairs of an axis.
- *whole*: everything of the three axes that rows hold, one verdict for a pair of flights. What is right comes
  from the true differences, each flight at its own operating point.
- *planner*: of flights before whose planned flying is one flight no longer than the one that was flown after,
  how often the flown one sufficed (level 0, no difference assumed).

Aircraft that the errors of differences were fitted to are left out (:func:`paired_errors.is_held_out`).

Scatter ``none``: nothing is added, and the verdict is told so. ``prior``: 2 % (standard deviation) on the
logarithm of each flight's bandwidth is drawn and added, not flown; the verdict takes its prior of 2 % with 4
degrees of freedom. ``stated``: the same flights, and the 2 % stated as known. Truth: see :mod:`pairs`.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import count_others
from paired_errors import is_held_out
from pairs import (
    LEVELS,
    ROUTES,
    Aircraft,
    at_level,
    binomial,
    estimates,
    farthest,
    grouped,
    of_quantity,
    read,
    scattered,
    true_differences,
)

from asflown.core.signals import AXES
from asflown.core.verdict.flying import FlyingPlan, plan_flying
from asflown.core.verdict.judge import Outcome, judge
from asflown.core.verdict.margins import DEFAULTS

SCATTER = 0.02
#: What the verdict is told of the scatter: nothing (its prior), or a factor on the prior as known.
TOLD: dict[str, float | None] = {"none": 0.0, "prior": None, "stated": 1.0}
#: Levels that are right as before, and those that are right as different; the edge is neither.
SAME, OTHER = ("0", "+5", "-5", "+10", "-10"), ("+20", "-20", "+40", "-40")
BANDWIDTH = of_quantity("bandwidth")
#: Shares of a margin between which a pair's largest true difference is near the edge.
NEAR = (0.9, 1.1)


def right(level: str) -> Outcome | None:
    """What a level should be called."""
    if level in SAME:
        return Outcome.AS_BEFORE
    return Outcome.DIFFERS if level in OTHER else None


def by_bandwidth(one: Aircraft, level: str, axis: str, route: str, scatter: str, truth: str) -> str:
    """The verdict on the bandwidth of one axis; ``unmeasured`` where a side has none by the route."""
    before, after = one.before[axis], one.after[level][axis]
    drawn = (1.0, 1.0) if scatter == "none" else scattered(one, level, SCATTER)
    moved = at_level(before, after, level) if truth == "as flown" else 1.0
    sides = [
        estimates(name, {axis: row}, route, figures=("bandwidth",), factors={axis: factor})
        for name, row, factor in (("before", before, drawn[0]), ("after", after, drawn[1] * moved))
    ]
    if any(side.of(f"axes.{axis}.bandwidth", ROUTES[route]) is None for side in sides):
        return "unmeasured"
    return str(judge(sides[:1], sides[1:], BANDWIDTH, scatter=TOLD[scatter], axes=()).outcome)


def shares(counts: Counter[str]) -> dict[str, object]:
    """Counts, and each rate with its bounds."""
    total = sum(counts.values())
    made: dict[str, object] = {"pairs": total}
    for name in (*map(str, Outcome), "unmeasured"):
        low, high = binomial(counts[name], total)
        key = name.replace("flies ", "").replace(" ", "_")
        made[key] = counts[name]
        if name != "unmeasured":
            made[f"{key}_rate"] = [round(counts[name] / total, 4), round(low, 4), round(high, 4)]
    return made


def bandwidth_cells(aircraft: list[Aircraft]) -> Iterator[dict[str, object]]:
    """Every cell, route, scatter and truth."""
    asked = [("none", "as flown"), ("none", "as set"), ("prior", "as flown"), ("stated", "as flown")]
    for (seconds, activity), group in grouped(aircraft).items():
        for route in ROUTES:
            for scatter, truth in asked:
                for level in LEVELS:
                    counts = Counter(
                        by_bandwidth(one, level, axis, route, scatter, truth)
                        for one in group
                        for axis in one.after.get(level, {})
                    )
                    if not counts:
                        continue
                    yield {
                        "seconds": seconds,
                        "activity": activity,
                        "route": route,
                        "scatter": scatter,
                        "truth": truth,
                        "level": level,
                        "left_out": sum(len(one.left_out.get(level, {})) for one in group),
                        **shares(counts),
                    }


def whole_cells(aircraft: list[Aircraft]) -> Iterator[dict[str, object]]:
    """The whole verdict by level, and by how far the farthest true difference is."""
    for (seconds, activity), group in grouped(aircraft).items():
        for route in ROUTES:
            for scatter in ("none", "prior"):
                by_level: dict[str, Counter[str]] = defaultdict(Counter)
                by_truth: dict[str, Counter[str]] = defaultdict(Counter)
                for one in group:
                    for level, rows in one.after.items():
                        if len(rows) < len(AXES):
                            continue
                        outcome = str(_whole(one, level, route, scatter))
                        by_level[level][outcome] += 1
                        by_truth[_where(one, level)][outcome] += 1
                cell = {"seconds": seconds, "activity": activity, "route": route, "scatter_told": scatter}
                for level in LEVELS:
                    if level in by_level:
                        yield {**cell, "level": level, **shares(by_level[level])}
                for where, counts in sorted(by_truth.items()):
                    yield {**cell, "farthest_difference": where, **shares(counts)}


def _whole(one: Aircraft, level: str, route: str, scatter: str) -> Outcome:
    before = estimates("before", one.before, route)
    after = estimates("after", one.after[level], route)
    return judge([before], [after], scatter=TOLD[scatter]).outcome


def _where(one: Aircraft, level: str) -> str:
    differences = true_differences(one, level)
    far, needed = farthest(differences)[0], farthest(differences, needed=True)[0]
    if needed > 1.0:
        return (
            "a needed one beyond its margin by a tenth" if needed >= NEAR[1] else "a needed one at its margin"
        )
    if far > NEAR[0]:
        return "within, near a margin, or a watched one beyond"
    return "within 0.9 of every margin" if far > 0.5 else "within half of every margin"


def planner(aircraft: list[Aircraft]) -> Iterator[dict[str, object]]:
    """Whether what was planned suffices, of pairs with nothing changed."""
    for (seconds, activity), group in grouped(aircraft).items():
        group = [one for one in group if "0" in one.after]
        for route in ROUTES:
            bandwidth = [
                (estimates("before", {axis: row}, route, figures=("bandwidth",)), one, axis)
                for one in group
                for axis, row in one.before.items()
            ]
            whole = [(estimates("before", one.before, route), one, "") for one in group]
            for what, asked, margins in (("bandwidth", bandwidth, BANDWIDTH), ("whole", whole, DEFAULTS)):
                counts: Counter[str] = Counter()
                planned: list[float] = []
                for before, one, axis in asked:
                    plan = plan_flying([before], margins, scatter=0.0, axes=(axis,) if axis else AXES)
                    counts[_planned(plan, seconds)] += 1
                    if plan.needs and not plan.never:
                        planned.append(float(plan.flights * plan.seconds))
                    if _planned(plan, seconds) != "flown":
                        continue
                    told = (
                        by_bandwidth(one, "0", axis, route, "none", "as flown")
                        if axis
                        else str(_whole(one, "0", route, "none"))
                    )
                    counts["sufficed"] += told == str(Outcome.AS_BEFORE)
                cell = {"seconds": seconds, "activity": activity, "route": route, "judged": what}
                yield cell | _sufficed(counts, planned)


def _planned(plan: FlyingPlan, seconds: float) -> str:
    if plan.missing or not plan.needs:
        return "unmeasured"
    if plan.never:
        return "never"
    return "flown" if plan.flights == 1 and plan.seconds <= seconds else "more than was flown"


def _sufficed(counts: Counter[str], planned: list[float]) -> dict[str, object]:
    total, hits = counts["flown"], counts["sufficed"]
    low, high = binomial(hits, total) if total else (0.0, 1.0)
    return {
        "pairs": total,
        "sufficed": hits,
        "rate": [round(hits / total, 4) if total else None, round(low, 4), round(high, 4)],
        "planned_s": [round(float(x), 1) for x in np.percentile(planned, [50, 90])] if planned else None,
        **{
            f"planned_{name.replace(' ', '_')}": counts[name]
            for name in ("more than was flown", "never", "unmeasured")
        },
    }


def count(asked: argparse.Namespace) -> None:
    """Count, print, write."""
    aircraft = [one for one in read(asked.rows) if is_held_out(one)]
    made = {
        "aircraft": {f"{s:g} s {a}": len(group) for (s, a), group in grouped(aircraft).items()},
        "seeds": ranges([one.seed for one in aircraft]),
        "bandwidth": list(bandwidth_cells(aircraft)),
        "whole": list(whole_cells(aircraft)),
        "planner": list(planner(aircraft)),
    }
    if asked.others:
        made["others"] = list(count_others.cells(asked.others))
    if asked.planned:
        made["planned_flights"] = list(count_others.planned_cells(asked.planned))
    tell(made)
    if asked.out:
        Path(asked.out).write_text(lines(made))


def ranges(numbers: list[int]) -> list[list[int]]:
    """First and last of each run of numbers."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return runs


def lines(made: dict[str, object]) -> str:
    """JSON with one cell a line."""
    parts = []
    for name, value in made.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            body = "[\n" + ",\n".join("  " + json.dumps(one) for one in value) + "\n ]"
        else:
            body = json.dumps(value)
        parts.append(f" {json.dumps(name)}: {body}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def tell(made: dict[str, object]) -> None:
    """Print rates in per cent: as before / differs / not enough, a column for each cell."""
    for name, keys in (("bandwidth", ("route", "scatter", "truth")), ("whole", ("route", "scatter_told"))):
        groups: dict[tuple[str, ...], dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
        for one in made[name]:  # type: ignore[attr-defined]
            rates = (one[key][0] for key in ("as_before_rate", "differs_rate", "not_enough_evidence_rate"))
            text = "/".join(f"{100 * rate:.1f}" for rate in rates)
            row = one.get("level") or one["farthest_difference"]
            key = f"{one['seconds']:g} {one['activity']}"
            groups[tuple(one[k] for k in keys)][row].append(f"{key} {text} ({one['pairs']})")
        for key, rows in groups.items():
            print(f"\n{name}: {', '.join(key)}")
            for row, cells in rows.items():
                print(f"  {row:>8s}  " + "  ".join(f"{cell:30s}" for cell in cells))
    for name in ("planner", "others", "planned_flights"):
        print(f"\n{name.replace('_', ' ')}")
        for one in made.get(name, []):  # type: ignore[attr-defined]
            print("  " + json.dumps(one))


def main() -> None:
    """Count from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("rows", nargs="+")
    parser.add_argument("--out")
    parser.add_argument("--others", help="rows of fly_others.py")
    parser.add_argument("--planned", help="rows of fly_planned.py")
    count(parser.parse_args())


if __name__ == "__main__":
    main()
