"""The 95 % intervals of the calibrations hold the known truth in 93 to 97 of 100 runs, 500 made."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "tools" / "calibrate"))
from count_calibrations import CASES, PLACE, counted


@pytest.mark.parametrize("name", CASES)
def test_intervals_hold_in_500_runs(name):
    made = counted(CASES[name], 500)
    for number, share in made["held"].items():
        assert 0.93 <= share <= 0.97, number
    # the figures that are told are the ones this code gives
    assert json.loads(PLACE.read_text())[name]["held"] == pytest.approx(made["held"], abs=0.003)
