"""Measured against predicted, on drawn changes whose truth is known: numpy's normal deviates judge it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.behaviour.predict.result import UNITS, Answer, Prediction, Stability
from asflown.core.measured import Measured, unmeasured
from asflown.core.verdict.estimate import Estimate, FlightEstimates
from asflown.core.verdict.expected import Agreement, Expected, expected, explained
from asflown.core.verdict.judge import Outcome, judge
from asflown.core.verdict.margins import DEFAULTS

NAME = "axes.roll.bandwidth"
EDGE = math.log(1.15)
ONLY = tuple(margin for margin in DEFAULTS if margin.quantity == "axes.{axis}.bandwidth")


def flight(ratio: float, error: float) -> FlightEstimates:
    value = 5.0 * math.exp(ratio)
    estimate = Estimate(value, value * math.exp(-1.96 * error), value * math.exp(1.96 * error))
    return FlightEstimates("f", 60.0, {"known_controller": {NAME: estimate}})


def predicted(ratio: float, error: float) -> Prediction:
    value = math.exp(ratio)
    changes = {name: unmeasured("not asked", unit) for name, unit in UNITS.items()}
    changes["bandwidth"] = Measured(
        value, value * math.exp(-1.96 * error), value * math.exp(1.96 * error), "1"
    )
    answer = Answer({}, Stability.STABLE, 0.0)
    return Prediction("roll", answer, answer, changes, unmeasured("not asked"))


def held(measured: float, foreseen: float, error: float = 0.01) -> Expected:
    made = judge([flight(0.0, error)], [flight(measured, error)], ONLY, scatter=0.0, axes=("roll",))
    [one] = expected(made, {"roll": predicted(foreseen, error)})
    return one


@pytest.mark.parametrize("foreseen", [0.0, 0.3, -0.4])
@pytest.mark.parametrize("edge", [EDGE, -EDGE])
def test_at_the_edge_it_is_seldom_called_either_way(foreseen: float, edge: float) -> None:
    """A change farther from the predicted one by the margin: each call in one of 20 at most."""
    random = np.random.default_rng(3)
    calls = {agreement: 0 for agreement in Agreement}
    for _ in range(1000):
        before, after, said = 0.02 * random.standard_normal(3)
        made = judge(
            [flight(before, 0.02)], [flight(foreseen + edge + after, 0.02)], ONLY, scatter=0.0, axes=("roll",)
        )
        [one] = expected(made, {"roll": predicted(foreseen + said, 0.02)})
        calls[one.agreement] += 1
    # 1,000 tries at 5 %: 71 or fewer in 999 of 1,000 (binomial)
    assert calls[Agreement.AS_PREDICTED] <= 72
    assert calls[Agreement.OTHERWISE] <= 72
    assert calls[Agreement.NOT_TOLD] >= 850


def test_who_explains_what() -> None:
    assert explained([held(0.4, 0.4)], "roll") is True
    assert explained([held(0.4, 0.0)], "roll") is False
    assert explained([held(0.0, 0.0)], "roll") is None
    assert explained([held(0.4, 0.4)], "yaw") is None
    assert explained([held(0.4, 0.2, error=0.03)], "roll") is True


def test_a_quantity_without_a_number_is_passed_over() -> None:
    made = judge([flight(0.0, 0.01)], [flight(0.0, 0.01)], ONLY, scatter=0.0, axes=("roll",))
    nothing = predicted(0.0, 0.01)
    nothing = replace(nothing, change=nothing.change | {"bandwidth": unmeasured("unstable", "1")})
    assert expected(made, {"roll": nothing}) == ()
    assert expected(made, {}) == ()


@given(st.floats(-0.6, 0.6), st.floats(-0.6, 0.6))
def test_a_shift_on_both_sides_changes_nothing(measured: float, shift: float) -> None:
    one, other = held(measured, 0.0), held(measured + shift, shift)
    assert one.test.difference == pytest.approx(other.test.difference, abs=1e-9)
    assert one.agreement is other.agreement or min(abs(abs(measured) - EDGE), 1) < 0.1
    if one.agreement is Agreement.OTHERWISE and other.judged.outcome is Outcome.AS_BEFORE:
        assert explained([other], "roll") is None
