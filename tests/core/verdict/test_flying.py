"""What is planned suffices when it is flown, by drawn flights."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from asflown.core.verdict.estimate import Estimate, FlightEstimates
from asflown.core.verdict.flying import plan_flying
from asflown.core.verdict.judge import Outcome, judge
from asflown.core.verdict.margins import DEFAULTS

NAME = "axes.roll.bandwidth"
ONLY = tuple(margin for margin in DEFAULTS if margin.quantity == "axes.{axis}.bandwidth")


def flight(ratio: float, error: float, seconds: float = 60.0) -> FlightEstimates:
    value = 5.0 * math.exp(ratio)
    ends = (value * math.exp(sign * 1.96 * error) for sign in (-1, 1))
    return FlightEstimates("f", seconds, {"known_controller": {NAME: Estimate(value, *ends)}})


@pytest.mark.parametrize(
    ("constant", "assumed", "scatter"),
    [(0.25, 0.0, 0.0), (0.15, 0.35, 0.0), (0.05, 0.0, 1.0), (0.1, 0.35, 1.0)],
)
def test_the_planned_flying_suffices_in_nine_of_ten(constant: float, assumed: float, scatter: float) -> None:
    """c in sqrt(s); the true difference is the one assumed, the scatter the one stated (2 % times)."""
    long = 180.0
    made = plan_flying(
        [flight(0.0, constant / math.sqrt(long), long)], ONLY, assumed=assumed, scatter=scatter
    )
    assert made.flights >= 1
    random = np.random.default_rng(17)
    true, moved = assumed * math.log(1.15), 0.02 * scatter
    found = 0
    for _ in range(1500):

        def drawn(middle: float, seconds: float) -> FlightEstimates:
            error = constant / math.sqrt(seconds)
            return flight(middle + math.hypot(error, moved) * random.standard_normal(), error, seconds)

        after = [drawn(true, made.seconds) for _ in range(made.flights)]
        found += (
            judge([drawn(0.0, long)], after, ONLY, scatter=scatter, axes=("roll",)).outcome
            is Outcome.AS_BEFORE
        )
    assert found / 1500 > 0.88
    less = plan_flying(
        [flight(0.0, constant / math.sqrt(long), long)], ONLY, assumed=assumed, scatter=scatter
    )
    need = less.needs[0]
    assert need.power >= 0.9


def test_a_longer_flight_is_asked_for_where_measuring_rules() -> None:
    made = plan_flying([flight(0.0, 0.02, 180.0)], ONLY, scatter=0.0)
    assert made.flights == 1
    assert made.seconds > 20
    rougher = plan_flying([flight(0.0, 0.03, 180.0)], ONLY, scatter=0.0)
    assert rougher.seconds > made.seconds


def test_more_flights_are_asked_for_where_the_scatter_rules() -> None:
    """The prior of 2 %, and a difference of half the margin allowed for: one flight of any length is too few."""
    before = [flight(x, 0.002) for x in (0.0, 0.03, -0.02, 0.01)]
    made = plan_flying(before, ONLY, assumed=0.5)
    need = made.needs[0]
    assert made.flights > 1
    assert need.alone < 0.9


def test_never_is_said_when_the_baseline_is_too_uncertain() -> None:
    made = plan_flying([flight(0.0, 0.1)], ONLY, scatter=0.0)
    assert made.never[0].quantity == NAME
    assert "baseline alone is too uncertain" in str(made.never[0].reason)
    assert (made.flights, made.seconds) == (0, 0)
    scattered = plan_flying([flight(0.0, 0.001)], ONLY, assumed=0.8)
    assert "scatter" in str(scattered.never[0].reason)


def test_a_floor_is_not_flown_away() -> None:
    """The floor of the interval that is shown, of a saturated flight: no comparison was counted there."""
    flown = flight(0.0, 0.03)
    free = plan_flying([flown], ONLY, scatter=0.0)
    floored = plan_flying([replace(flown, saturated={"roll": 0.7})], ONLY, scatter=0.0)
    assert floored.needs[0].alone < free.needs[0].alone


def test_what_the_baseline_lacks_is_named() -> None:
    empty = FlightEstimates("x", 60.0, {}, {NAME: "the log holds no rates"})
    assert plan_flying([empty], ONLY, axes=("roll",)).missing == (NAME,)
    with pytest.raises(ValueError, match="baseline"):
        plan_flying([], ONLY)
