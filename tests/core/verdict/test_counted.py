"""The verdict counted on flown pairs whose truth is known: a few aircraft here, hundreds in the results kept.

The truth of bandwidths is ``tools/flights/truth.py``'s, which shares no code with what measures and judges.
"""

from __future__ import annotations

import json
import math
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from asflown.core.signals import AXES

ROOT = Path(__file__).parents[3]
#: Not among the seeds of the kept results.
AIRCRAFT = ((3_980_001, "linear"), (3_980_002, "quadratic"), (3_980_004, "unequal"), (3_980_005, "spin"))
KNOWN = "known controller"


@pytest.fixture(scope="module")
def tools() -> dict[str, ModuleType]:
    """The counting tools."""
    sys.path.insert(0, str(ROOT / "tools" / "flights"))
    import count_pairs
    import count_verdicts
    import pairs

    return {"count_pairs": count_pairs, "count_verdicts": count_verdicts, "pairs": pairs}


@pytest.fixture(scope="module")
def aircraft(tools: dict[str, ModuleType], tmp_path_factory: pytest.TempPathFactory) -> list[Any]:
    """Flown for 20 s at normal activity, before and after each level."""
    kept = tmp_path_factory.mktemp("pairs") / "rows.jsonl"
    with kept.open("w") as out:
        for seed, structure in AIRCRAFT:
            for row in tools["count_verdicts"].one_aircraft((seed, structure, 20.0, "normal", 1)):
                out.write(json.dumps(row) + "\n")
    return list(tools["pairs"].read([str(kept)]))


def test_bounds_of_a_rate_are_those_of_a_reference(tools: dict[str, ModuleType]) -> None:
    """Clopper-Pearson against statsmodels."""
    from statsmodels.stats.proportion import proportion_confint

    for hits, total in ((0, 12), (3, 12), (12, 12), (17, 600)):
        expected = proportion_confint(hits, total, alpha=0.05, method="beta")
        assert tools["pairs"].binomial(hits, total) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("level", ["-20", "+edge", "-edge"])
def test_gains_after_lead_to_the_bandwidth_of_the_level(tools: dict[str, ModuleType], level: str) -> None:
    """By the roots of ``truth.py``, where the gains were solved for with asflown's own figures on a grid."""
    import population
    import truth

    for seed, structure in AIRCRAFT[:2]:
        airframe, controller = population.draw(seed, structure)
        point = truth.at_hover(airframe, controller)
        was = truth.truth(airframe, controller, point)
        bandwidths = np.array([was[axis].bandwidth for axis in AXES])
        ratio = tools["pairs"].LEVELS[level]
        after, reasons = tools["count_verdicts"].at_level(airframe, controller, point, bandwidths, ratio)
        now = truth.truth(airframe, after, point)
        for axis in AXES:
            wanted = 1.0 if axis in reasons else math.exp(ratio)
            assert now[axis].bandwidth / was[axis].bandwidth == pytest.approx(wanted, rel=5e-4)


@pytest.mark.slow
def test_a_few_pairs_are_judged_as_they_are(tools: dict[str, ModuleType], aircraft: list[Any]) -> None:
    """Nothing changed never differs, a fifth is never as before, and the edges are seldom either."""
    told = {
        level: Counter(
            tools["count_pairs"].by_bandwidth(one, level, axis, KNOWN, "none", "as flown")
            for one in aircraft
            for axis in one.after.get(level, {})
        )
        for level in ("0", "-20", "+20", "-edge", "+edge")
    }
    assert told["0"]["flies as before"] >= 0.9 * told["0"].total()
    assert told["0"]["differs"] == 0
    for level in ("-20", "+20"):
        assert told[level]["flies as before"] == 0
        assert told[level]["differs"] >= 0.6 * told[level].total()
    edges = told["-edge"] + told["+edge"]
    for wrong in ("flies as before", "differs"):
        least, _ = tools["pairs"].binomial(edges[wrong], edges.total())
        assert least <= 0.05
    assert edges.total() >= 2 * len(AXES) * (len(AIRCRAFT) - 1)
