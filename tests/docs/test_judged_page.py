"""The tables of counted verdicts, predictions and retunes on the page are those that were counted."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RESULTS = ROOT / "benchmarks" / "results"
NAMES = ("bandwidth", "scatter", "whole", "others", "planned", "refits", "prediction", "retune")


@pytest.fixture
def page(monkeypatch):
    monkeypatch.setattr(sys, "path", [*sys.path, str(ROOT / "tools" / "flights")])
    import counted_page

    return counted_page


@pytest.mark.parametrize("name", NAMES)
def test_the_page_shows_what_was_counted(page, name):
    assert name in page.TABLES
    begin, end = page.marks(name)
    shown = page.PAGE.read_text().split(begin)[1].split(end)[0]
    assert shown.splitlines() == page.table(name)
    assert len(shown.splitlines()) > 3


def test_no_verdict_was_counted_on_aircraft_that_the_errors_were_fitted_to(page):
    ranges = json.loads((RESULTS / "verdict.json").read_text())["seeds"]
    seeds = [seed for first, last in ranges for seed in range(first, last + 1)]
    assert len(seeds) > 500
    assert all(seed % 1000 >= 200 or seed % 1000 // 7 % 2 == 1 for seed in seeds)


def test_the_rates_asked_for_were_counted_on_enough_pairs(page):
    """At the edges no rate of a wrong call is surely above 5 %, in any cell of either route."""
    cells = json.loads((RESULTS / "verdict.json").read_text())["bandwidth"]
    edges = [
        one
        for one in cells
        if one["level"] in ("+edge", "-edge") and (one["scatter"], one["truth"]) == ("none", "as flown")
    ]
    assert len(edges) == 24
    for one in edges:
        assert one["pairs"] >= 500
        for name in ("as_before", "differs"):
            assert page.binomial(one[name], one["pairs"])[0] <= 0.05
