"""The table of counted intervals on the page is the one that was counted."""

from __future__ import annotations

import json
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "explanation" / "how-flights-are-measured.md"
COUNTED = ROOT / "benchmarks" / "results" / "coverage.json"


def test_the_page_shows_what_was_counted(monkeypatch):
    monkeypatch.setattr(sys, "path", [*sys.path, str(ROOT / "tools" / "flights")])
    import count_intervals

    wanted = count_intervals.page_table(json.loads(COUNTED.read_text())["cells"])
    shown = PAGE.read_text().split("<!-- counted: begin -->\n")[1].split("\n<!-- counted: end -->")[0]
    assert shown.splitlines() == wanted


def test_the_seeds_counted_are_none_of_those_calibrated_on(monkeypatch):
    monkeypatch.setattr(sys, "path", [*sys.path, str(ROOT / "tools" / "flights")])
    import count_intervals

    ranges = json.loads(COUNTED.read_text())["seeds"]
    assert ranges
    assert not any(
        count_intervals.is_calibrated_on(seed) for first, last in ranges for seed in range(first, last + 1)
    )
