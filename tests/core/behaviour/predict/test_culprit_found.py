"""The smallest culprit on drawn aircraft: settings are spoilt by the test, and what was spoilt must be named."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from asflown.core.behaviour.predict.controls import declared_controls
from asflown.core.behaviour.predict.nominal import Nominal
from asflown.core.behaviour.predict.plants import plants
from asflown.core.behaviour.retune.knobs import knobs_of
from asflown.core.behaviour.retune.loops import GRID, Loop, target_of
from asflown.core.verdict.culprit import Culprits, culprits

sys.path.insert(0, str(Path(__file__).parents[1] / "retune"))
from aircraft import carried, limits

AXIS = "roll"
SEEDS = (1, 2, 3)


def looked(one: Any, found: Any, values: Mapping[str, float], earlier: Mapping[str, float]) -> Culprits:
    """Culprits for settings on the plant of a flight, the old controller as it was."""
    old = one.old(AXIS)
    plant = plants(found, GRID)[0]
    loop = Loop(one.structures[AXIS], values, values, 1.0, target_of(plant, plant, old))
    knobs = knobs_of(one.structures, values, values, limits(one.old_values))
    return culprits(AXIS, loop, Nominal(found, declared_controls(old, 1.0)), knobs, [earlier])


@pytest.fixture(params=SEEDS)
def aircraft(request: pytest.FixtureRequest, flown: Any, tools: Any) -> tuple[Any, Any]:
    """A carried aircraft, and the plant its flight showed."""
    return carried(*tools, request.param), flown(request.param).identified[AXIS]


@pytest.mark.parametrize(
    ("role", "times"), [("rate_loop.roll.proportional_gain", 1.6), ("gyro_filter.cutoff", 0.12)]
)
def test_what_was_spoilt_is_put_back(aircraft: tuple[Any, Any], role: str, times: float) -> None:
    one, found = aircraft
    values = {**one.old_values, role: times * one.old_values[role], "rate_loop.yaw.integral_gain": 9.0}
    made = looked(one, found, values, one.old_values)
    assert made.farthest > 1.0
    best = made.found[0]
    assert best.put_back
    assert dict(best.values) == {role: one.old_values[role]}
    assert best.farthest == pytest.approx(0.0, abs=1e-6)


def test_a_pair_is_named_where_one_is_not_enough(aircraft: tuple[Any, Any]) -> None:
    one, found = aircraft
    pair = "rate_loop.roll.proportional_gain", "rate_loop.roll.derivative_gain"
    values = {**one.old_values, **{role: 2.2 * one.old_values[role] for role in pair}}
    made = looked(one, found, values, one.old_values)
    assert set(made.found[0].values) == set(pair) or len(made.found[0].values) == 1
    assert made.found[0].farthest < 0.5 * made.farthest


def test_a_setting_that_means_something_else_is_turned(aircraft: tuple[Any, Any]) -> None:
    """The same numbers, and a release that takes the gain for half as much: nothing to put back."""
    one, found = aircraft
    role = "rate_loop.roll.proportional_gain"
    values = {**one.old_values, role: 0.5 * one.old_values[role]}
    made = looked(one, found, values, values)
    best = made.found[0]
    assert not best.put_back
    assert dict(best.values) == pytest.approx({role: one.old_values[role]}, rel=0.05)


def test_settings_as_before_explain_nothing(aircraft: tuple[Any, Any]) -> None:
    one, found = aircraft
    made = looked(one, found, one.old_values, one.old_values)
    assert made.farthest == pytest.approx(0.0, abs=1e-6)
    assert made.found == ()
