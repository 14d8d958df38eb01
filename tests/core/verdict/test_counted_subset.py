"""The verdict counted on a few of the flown pairs that ``benchmarks/results/verdict.json`` counts.

``flown_pairs.jsonl`` holds 14 aircraft (seeds 3001007 to 3001013 and 3001021 to 3001027, 20 s, normal
activity), six digits, that the errors were not fitted to. Their truth is ``tools/flights/truth.py``'s.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from asflown.core.signals import AXES
from asflown.core.verdict.judge import Outcome, judge
from asflown.core.verdict.margins import margin_of
from asflown.core.verdict.sides import numbers_of, shared

ROOT = Path(__file__).parents[3]
ROWS = Path(__file__).with_name("flown_pairs.jsonl")
KNOWN = "known controller"
FIGURES = ("bandwidth", "rise_time", "overshoot", "phase_margin", "phase_delay", "peak_sensitivity")


@pytest.fixture(scope="module")
def tools() -> dict[str, ModuleType]:
    """The counting tools."""
    sys.path.insert(0, str(ROOT / "tools" / "flights"))
    import count_pairs
    import paired_errors
    import pairs

    return {"count_pairs": count_pairs, "pairs": pairs, "paired_errors": paired_errors}


@pytest.fixture(scope="module")
def aircraft(tools: dict[str, ModuleType]) -> list[Any]:
    return list(tools["pairs"].read([str(ROWS)]))


def told(tools: dict[str, ModuleType], aircraft: list[Any], *levels: str) -> Counter[str]:
    """Verdicts on the bandwidth of one axis."""
    return Counter(
        tools["count_pairs"].by_bandwidth(one, level, axis, KNOWN, "none", "as flown")
        for one in aircraft
        for level in levels
        for axis in one.after.get(level, {})
    )


def errors(one: Any, level: str, figure: str) -> list[float]:
    """Of measured differences, over their standard errors, by axis."""
    made = []
    for axis, after in one.after.get(level, {}).items():
        name = f"axes.{axis}.{figure}"
        margin = margin_of(name)
        assert margin is not None
        sides = [[_estimates(axis, row)] for row in (one.before[axis], after)]
        beside = shared(name, *sides)
        was, now = (numbers_of(name, "known_controller", side, margin, beside)[0] for side in sides)
        true = [margin.of(row["truth"][figure]) for row in (one.before[axis], after)]
        made.append((now.value - was.value - true[1] + true[0]) / math.hypot(was.error, now.error))
    return [x for x in made if math.isfinite(x)]


def _estimates(axis: str, row: Any) -> Any:
    from pairs import estimates

    return estimates("flown", {axis: row}, KNOWN)


def test_the_errors_were_not_fitted_to_these_aircraft(
    tools: dict[str, ModuleType], aircraft: list[Any]
) -> None:
    assert len(aircraft) == 14
    assert {one.structure for one in aircraft} == {
        "linear",
        "quadratic",
        "flexible",
        "unequal",
        "compensated",
        "spin",
        "mixed",
    }
    assert all(tools["paired_errors"].is_held_out(one) for one in aircraft)


def test_at_the_edges_neither_is_said_too_often(tools: dict[str, ModuleType], aircraft: list[Any]) -> None:
    """At most 5 % each, as far as so few can tell; and not by never saying anything."""
    edges = told(tools, aircraft, "+edge", "-edge")
    assert edges.total() > 70
    for wrong in (Outcome.AS_BEFORE, Outcome.DIFFERS):
        least, most = tools["pairs"].binomial(edges[str(wrong)], edges.total())
        assert least <= 0.05 <= most
    assert told(tools, aircraft, "0")[str(Outcome.AS_BEFORE)] >= 40
    fifth = told(tools, aircraft, "-20", "+20")
    assert fifth[str(Outcome.AS_BEFORE)] == 0
    assert fifth[str(Outcome.DIFFERS)] >= 0.9 * fifth.total()


@pytest.mark.parametrize("figure", FIGURES)
def test_intervals_of_differences_hold_as_often_as_they_say(aircraft: list[Any], figure: str) -> None:
    """About 95 %: all pairs of an aircraft share its flight before, so the bounds are wide.

    The other way round, errors twice as large or half as large would not pass.
    """
    found = [
        x
        for one in aircraft
        for level in ("0", "+edge", "-edge", "+20", "-20")
        for x in errors(one, level, figure)
    ]
    assert len(found) > 180
    held = [sum(abs(x) < times * 1.96 for x in found) / len(found) for times in (0.5, 1.0, 2.0)]
    assert 0.9 <= held[1] <= 0.995
    assert held[0] < 0.85
    assert held[2] > 0.99


def test_whole_verdicts_are_never_wrong_here(tools: dict[str, ModuleType], aircraft: list[Any]) -> None:
    """Nothing changed never differs and a fifth is never as before; what is changed by nothing is often told."""
    found: dict[str, Counter[Outcome]] = {level: Counter() for level in ("0", "-20", "+20")}
    for one in aircraft:
        before = tools["pairs"].estimates("before", one.before, KNOWN)
        for level, counts in found.items():
            rows = one.after.get(level, {})
            if len(rows) == len(AXES):
                after = tools["pairs"].estimates("after", rows, KNOWN)
                counts[judge([before], [after], scatter=0.0).outcome] += 1
    assert found["0"][Outcome.DIFFERS] == 0
    assert found["0"][Outcome.AS_BEFORE] >= 4
    for level in ("-20", "+20"):
        assert found[level][Outcome.AS_BEFORE] == 0
        assert found[level][Outcome.DIFFERS] >= 0.8 * found[level].total()
