"""Errors of comparisons: what is shown of one flight, less what the flights share.

How often they hold the truth is counted on flown pairs (``test_counted.py``); here is what they are made of.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.behaviour.response.calibration import RELATIVE, Activity, widened
from asflown.core.evidence import Evidence, Interval
from asflown.core.verdict.ahead import each_of
from asflown.core.verdict.estimate import HALF_WIDTH, Estimate, FlightEstimates, of_evidence
from asflown.core.verdict.flying import plan_flying
from asflown.core.verdict.judge import judge
from asflown.core.verdict.margins import DEFAULTS, Margin, margin_of
from asflown.core.verdict.paired import FARTHEST, LONGER, MOST, TABLE, parts
from asflown.core.verdict.sides import numbers_of, shared

NAME, ROUTE = "axes.roll.bandwidth", "known_controller"
ONLY = tuple(margin for margin in DEFAULTS if margin.quantity == "axes.{axis}.bandwidth")
SHOWN = Estimate(5.0, 4.91, 5.09)


def flight(saturated: float | None, seconds: float = 60.0, shown: Estimate = SHOWN) -> FlightEstimates:
    known = {} if saturated is None else {"roll": saturated}
    return FlightEstimates("f", seconds, {ROUTE: {NAME: shown}}, saturated=known)


def margin() -> Margin:
    found = margin_of(NAME)
    assert found is not None
    return found


def errors(before: Sequence[FlightEstimates], after: Sequence[FlightEstimates]) -> list[float]:
    """Of all flights."""
    beside = shared(NAME, before, after)
    return [one.error for side in (before, after) for one in numbers_of(NAME, ROUTE, side, margin(), beside)]


@given(
    st.sampled_from(sorted(TABLE)),
    st.floats(1.0, 30.0),
    st.floats(0.001, 0.2),
    st.sampled_from((0.0, 0.04, 0.25)),
)
def test_the_spread_is_got_back_from_the_interval_shown(
    of: tuple[str, str], value: float, share: float, saturated: float
) -> None:
    """Widened by the calibration's own rule, then compared: the table's factor on the spread, and its floor."""
    route, figure = of
    size = value if figure in RELATIVE else 1.0
    raw = share * size
    spelt = {"known_controller": "known controller", "model_free": "model-free"}[route]
    low, high = widened(figure, spelt, value, value - raw, value + raw, Activity(saturated))
    factor, floor = (knots[(0.0, 0.04, 0.25).index(saturated)] for knots in TABLE[of])
    found = parts(f"axes.roll.{figure}", route, (value, low, high), saturated, saturated)
    assert found is not None
    assert found[0] == pytest.approx(LONGER * factor * share / 1.96, rel=1e-6)
    assert found[1] == pytest.approx(LONGER * floor / math.sqrt(2.0), rel=1e-12, abs=0.0)


def test_what_flights_of_other_activity_do_not_share_stays() -> None:
    """A calm flight beside one with 0.2 more saturated: the difference of the shown floors is in the error."""
    alike, beside = (parts(NAME, ROUTE, (5.0, 4.8, 5.2), 0.0, other) for other in (0.0, 0.2))
    assert alike is not None
    assert beside is not None
    assert beside[0] == alike[0]
    shown = 0.00787 + (0.018 - 0.00787) * (0.2 - 0.04) / (0.25 - 0.04)
    assert beside[1] == pytest.approx(math.hypot(alike[1], shown - 0.000459), rel=1e-9)


def test_flights_that_were_not_counted_together_keep_the_errors_shown() -> None:
    """Saturation not known, farther apart, or more than any flight that was counted: both sides as shown."""
    shown = SHOWN.error(margin())
    alike = errors([flight(0.04)], [flight(0.04)])
    assert max(alike) < 0.95 * shown
    for before, after in (
        (flight(None), flight(0.04)),
        (flight(0.04), flight(None)),
        (flight(0.01), flight(0.01 + FARTHEST + 0.001)),
        (flight(MOST + 0.001), flight(MOST - 0.1)),
    ):
        assert errors([before], [after]) == [shown, shown]


def test_errors_are_those_of_ratios_and_of_differences() -> None:
    """A share of a ratio stays a share; a phase margin's error is in degrees whatever its size."""
    route = {
        NAME: SHOWN,
        "axes.roll.phase_margin": Estimate(50.0, 45.0, 55.0),
        "axes.roll.overshoot": Estimate(0.1, 0.08, 0.12),
    }
    one = FlightEstimates("f", 60.0, {ROUTE: route}, saturated={"roll": 0.04})
    for name, own in route.items():
        scale = margin_of(name)
        assert scale is not None
        found = numbers_of(name, ROUTE, [one], scale, shared(name, [one], [one]))[0]
        whole = parts(name, ROUTE, (own.value, own.low, own.high), 0.04, 0.04)
        assert whole is not None
        assert found.error == pytest.approx(math.hypot(*whole))
        assert found.floor == pytest.approx(whole[1])


def test_the_planner_takes_the_errors_that_the_judge_takes() -> None:
    """c² / T + floor² of a flight as long as the baseline is the judge's own variance of it."""
    one = flight(0.04)
    judged = judge([one], [one], ONLY, scatter=0.0, axes=("roll",)).quantities[0]
    assert judged.is_paired
    constant, floor = each_of(numbers_of(NAME, ROUTE, [one], margin(), shared(NAME, [one], ())), [one])
    assert constant / 60.0 + floor == pytest.approx(judged.variances[1], rel=1e-12)
    assert judged.variances[0] == judged.variances[1]
    wide = replace(one, saturated={})
    planned = [plan_flying([x], ONLY, scatter=0.0, axes=("roll",)) for x in (one, wide)]
    assert planned[0].seconds < planned[1].seconds or planned[0].power > planned[1].power
    assert not judge([wide], [wide], ONLY, scatter=0.0, axes=("roll",)).quantities[0].is_paired


def test_saturation_is_read_from_evidence() -> None:
    evidence = [Evidence("axes.roll.saturated_share", "1", 0.03, Interval(0.03, 0.03, 0.95))]
    assert of_evidence("f", 60.0, evidence).saturated == {"roll": 0.03}


def test_a_quantity_that_was_not_counted_in_comparisons_keeps_its_interval() -> None:
    name = "motors.hover"
    one = FlightEstimates("f", 60.0, {"": {name: Estimate(0.3, 0.29, 0.31)}}, saturated={"roll": 0.04})
    scale = margin_of(name)
    assert scale is not None
    found = numbers_of(name, "", [one], scale, shared(name, [one], [one]))[0]
    assert found.error == pytest.approx(math.log(0.3 / 0.29) / HALF_WIDTH)
    assert found.floor == 0.0
