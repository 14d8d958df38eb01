"""The verdict on drawn flights whose truth is known: numpy's normal deviates judge it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asflown.core.evidence import Evidence, Interval
from asflown.core.verdict.estimate import Estimate, FlightEstimates, of_evidence
from asflown.core.verdict.judge import Outcome, judge
from asflown.core.verdict.margins import DEFAULTS, Weight, changed, digest, margin_of
from asflown.core.verdict.scatter import scatter_of
from asflown.core.verdict.sides import Number
from asflown.errors import InputError

NAME = "axes.roll.bandwidth"
EDGE = math.log(1.15)
ONLY = tuple(margin for margin in DEFAULTS if margin.quantity == "axes.{axis}.bandwidth")


def flight(ratio: float, error: float, route: str = "known_controller", id: str = "f") -> FlightEstimates:
    """A flight whose bandwidth is 5 Hz times exp(ratio), with a standard error on the log scale."""
    value = 5.0 * math.exp(ratio)
    estimate = Estimate(value, value * math.exp(-1.96 * error), value * math.exp(1.96 * error))
    return FlightEstimates(id, 60.0, {route: {NAME: estimate}})


def share(
    outcome: Outcome,
    true: float,
    *,
    error: float,
    scatter: float,
    flights: int = 1,
    assumed: float | None = None,
) -> tuple[float, int]:
    """Of 2,000 drawn pairs of sides, how many come out so."""
    random = np.random.default_rng(11)
    count = 2000
    found = 0
    for _ in range(count):
        sides = [
            [
                flight(middle + math.hypot(error, scatter) * random.standard_normal(), error)
                for _ in range(flights)
            ]
            for middle in (0.0, true)
        ]
        found += judge(sides[0], sides[1], ONLY, scatter=assumed, axes=("roll",)).outcome is outcome
    return found / count, count


def at_most(found: tuple[float, int], bound: float) -> bool:
    """Whether a share is no proof of a rate above the bound (binomial, one side, 99.9 %)."""
    from scipy.stats import binom

    return bool(found[0] * found[1] <= binom.ppf(0.999, found[1], bound))


@pytest.mark.parametrize(("scatter", "assumed"), [(0.0, 0.0), (0.02, 1.0), (0.02, None)])
@pytest.mark.parametrize("edge", [EDGE, -EDGE])
def test_at_the_edge_it_is_seldom_called_either_way(
    edge: float, scatter: float, assumed: float | None
) -> None:
    for outcome in (Outcome.AS_BEFORE, Outcome.DIFFERS):
        assert at_most(share(outcome, edge, error=0.01, scatter=scatter, assumed=assumed), 0.05)


@pytest.mark.parametrize("flights", [2, 3])
def test_flights_of_a_side_tell_the_scatter(flights: int) -> None:
    """The scatter that was held likely: the edge holds. Twice as much: 10 to 11 in 100, 15 with one flight."""
    found = share(Outcome.AS_BEFORE, EDGE, error=0.01, scatter=0.02, flights=flights)
    assert at_most(found, 0.05)
    assert at_most(share(Outcome.AS_BEFORE, EDGE, error=0.01, scatter=0.04, flights=flights), 0.11)


def test_what_is_within_and_what_is_beyond_is_found() -> None:
    assert share(Outcome.AS_BEFORE, 0.0, error=0.01, scatter=0.0, assumed=0.0)[0] > 0.99
    assert share(Outcome.AS_BEFORE, math.log(1.05), error=0.01, scatter=0.0, assumed=0.0)[0] > 0.99
    assert share(Outcome.DIFFERS, math.log(1.2), error=0.008, scatter=0.0, assumed=0.0)[0] > 0.95
    assert share(Outcome.AS_BEFORE, 0.0, error=0.1, scatter=0.0, assumed=0.0)[0] == 0.0


@given(ratio=st.floats(-0.5, 0.5), error=st.floats(0.002, 0.2), other=st.floats(0.002, 0.2))
def test_before_and_after_changed_round_say_the_same(ratio: float, error: float, other: float) -> None:
    one = judge([flight(0.0, error)], [flight(ratio, other)], ONLY, axes=("roll",))
    turned = judge([flight(ratio, other)], [flight(0.0, error)], ONLY, axes=("roll",))
    assert one.outcome is turned.outcome


@settings(max_examples=50)
@given(error=st.floats(0.001, 0.1), scale=st.floats(0.1, 10.0))
def test_the_unit_does_not_matter(error: float, scale: float) -> None:
    def times(one: FlightEstimates) -> FlightEstimates:
        old = one.routes["known_controller"][NAME]
        new = Estimate(scale * old.value, scale * old.low, scale * old.high)
        return FlightEstimates(one.id, one.seconds, {"known_controller": {NAME: new}})

    pair = flight(0.0, error), flight(0.1, error)
    plain, other = (
        judge([pair[0]], [pair[1]], ONLY, axes=("roll",)),
        judge([times(pair[0])], [times(pair[1])], ONLY, axes=("roll",)),
    )
    assert plain.outcome is other.outcome
    assert plain.quantities[0].test.difference == pytest.approx(other.quantities[0].test.difference)  # type: ignore[union-attr]


@given(error=st.floats(0.001, 0.2))
def test_no_difference_is_never_called_one(error: float) -> None:
    assert (
        judge([flight(0.0, error)], [flight(0.0, error)], ONLY, axes=("roll",)).outcome is not Outcome.DIFFERS
    )


def test_only_the_same_route_is_compared() -> None:
    made = judge([flight(0.0, 0.01)], [flight(0.0, 0.01, "model_free")], ONLY, axes=("roll",))
    assert made.outcome is Outcome.NOT_ENOUGH
    assert "another route" in str(made.quantities[0].reason)
    both = FlightEstimates(
        "b",
        60.0,
        {
            "known_controller": flight(0.0, 0.01).routes["known_controller"],
            "model_free": flight(0.3, 0.01, "model_free").routes["model_free"],
        },
    )
    made = judge([both], [flight(0.3, 0.01, "model_free")], ONLY, axes=("roll",))
    assert (made.outcome, made.quantities[0].route) == (Outcome.AS_BEFORE, "model_free")


def test_what_is_needed_and_not_measured_keeps_it_open() -> None:
    empty = FlightEstimates("x", 60.0, {}, {NAME: "the log holds no rates"})
    made = judge([flight(0.0, 0.01)], [empty], ONLY, axes=("roll",))
    assert made.outcome is Outcome.NOT_ENOUGH
    assert made.missing == (f"{NAME}: not measured after (x): the log holds no rates",)


def test_what_is_watched_can_differ_and_need_not_be_there() -> None:
    """Crossover is watched: unknown it does not keep the verdict open; beyond its margin it differs."""
    margins = tuple(m for m in DEFAULTS if m.quantity in ("axes.{axis}.bandwidth", "axes.{axis}.crossover"))
    assert margin_of("axes.roll.crossover").weight is Weight.WATCHED  # type: ignore[union-attr]

    def with_crossover(value: float | None) -> FlightEstimates:
        known: dict[str, Any] = dict(flight(0.0, 0.01).routes["known_controller"])
        if value is not None:
            known["axes.roll.crossover"] = Estimate(value, 0.99 * value, 1.01 * value)
        return FlightEstimates("c", 60.0, {"known_controller": known})

    assert (
        judge([with_crossover(None)], [with_crossover(None)], margins, axes=("roll",)).outcome
        is Outcome.AS_BEFORE
    )
    assert (
        judge([with_crossover(10)], [with_crossover(16)], margins, axes=("roll",)).outcome is Outcome.DIFFERS
    )


def test_many_tries_do_not_make_a_difference() -> None:
    """Twenty quantities at their edges: differs is called in 5 of 100 at most, all together (Holm)."""
    random = np.random.default_rng(3)
    margins = tuple(m for m in DEFAULTS if m.quantity == "motors.each.{n}.offset")
    called = 0
    for _ in range(800):
        sides = []
        for middle in (0.0, 0.02):
            numbers = {}
            for n in range(1, 21):
                value = middle + 0.003 * random.standard_normal()
                numbers[f"motors.each.{n}.offset"] = Estimate(value, value - 0.00588, value + 0.00588)
            sides.append(FlightEstimates("m", 60.0, {"": numbers}))
        called += judge([sides[0]], [sides[1]], margins, scatter=0.0).outcome is Outcome.DIFFERS
    assert at_most((called / 800, 800), 0.05)


def test_a_baseline_that_differs_from_itself_is_shown() -> None:
    flights = [flight(0.0, 0.005, id="a"), flight(0.4, 0.005, id="b")]
    made = judge(flights, [flight(0.2, 0.005, id="c")], ONLY, axes=("roll",))
    assert made.against_itself is not None
    assert made.against_itself.outcome is Outcome.DIFFERS
    assert made.outcome is not Outcome.AS_BEFORE  # the flights themselves say how much they scatter


def test_estimates_come_from_evidence_by_route() -> None:
    def evidence(name: str, value: float | None, reason: str | None = None) -> Evidence:
        interval = None if value is None else Interval(0.9 * value, 1.1 * value, 0.95)
        unit = "Hz" if "bandwidth" in name else "1"
        return Evidence(name, unit, value, interval, reason)

    made = of_evidence(
        "p-f1",
        60.0,
        [
            evidence("axes.roll.bandwidth", 5.0),
            evidence("axes.roll.by_route.known_controller.bandwidth", 5.0),
            evidence("axes.roll.by_route.model_free.bandwidth", 5.2),
            evidence("axes.yaw.bandwidth", None, "no yaw"),
            evidence("motors.hover", 0.4),
            evidence("motors.each.2.offset", 0.01),
            evidence("power.resistance", 0.02),
        ],
    )
    assert made.of(NAME, "known_controller") == Estimate(5.0, 4.5, 5.5)
    assert made.of(NAME, "model_free") == Estimate(5.2, 0.9 * 5.2, 1.1 * 5.2)
    share = made.of("motors.each.2.offset", "model_free")
    assert share is not None
    assert share.value == pytest.approx(0.01 / 0.4)
    assert made.of("power.resistance", "") is None
    assert made.reasons == {"axes.yaw.bandwidth": "no yaw"}


def test_margins_are_changed_sealed_and_refused() -> None:
    own = changed({"axes.{axis}.bandwidth": 0.1, "axes.yaw.phase_margin": 12.0})
    assert margin_of("axes.roll.bandwidth", own).high == pytest.approx(math.log(1.1))  # type: ignore[union-attr]
    assert margin_of("axes.yaw.phase_margin", own).high == 12.0  # type: ignore[union-attr]
    assert margin_of("axes.roll.phase_margin", own).high == 8.0  # type: ignore[union-attr]
    assert digest(own) != digest(DEFAULTS) == digest(tuple(reversed(DEFAULTS)))
    with pytest.raises(InputError) as refused:
        changed({"axes.{axis}.bandwidth": -1.0, "axes.roll.colour": 0.1, "power.resistance": 0.1})
    assert len(refused.value.faults) == 3


def groups(*values: Sequence[float]) -> list[list[Number]]:
    return [[Number(value, 0.01) for value in group] for group in values]


def test_scatter_is_the_prior_moderated_by_what_flights_show() -> None:
    """By hand: s² = (4 · 0.02² + 1 · (0.0032 - 0.0001)) / 5, the prior alone without a pair."""
    assert scatter_of(0.02, groups([0.0], [0.5])).value == 0.02
    found = scatter_of(0.02, groups([0.0, 0.08]))
    assert found.value == pytest.approx(math.sqrt((4 * 0.0004 + 0.0032 - 0.0001) / 5))
    assert (found.dof, found.flights) == (5.0, 2)
    # less than measuring explains is no scatter, and never below none
    assert scatter_of(0.02, groups([0.0, 0.001])).value == pytest.approx(math.sqrt(4 * 0.0004 / 5))


def test_every_margin_is_of_a_quantity_that_exists() -> None:
    for margin in DEFAULTS:
        name = margin.quantity.replace("{axis}", "roll").replace("{n}", "1")
        found = margin_of(name)
        assert found is margin, name


def test_what_is_required_and_nowhere_measured_keeps_it_open() -> None:
    """Roll alone is no verdict on three axes."""
    made = judge([flight(0.0, 0.005)], [flight(0.0, 0.005)], ONLY)
    assert made.outcome is Outcome.NOT_ENOUGH
    assert [text.partition(":")[0] for text in made.missing] == ["axes.pitch.bandwidth", "axes.yaw.bandwidth"]


def test_an_end_without_a_logarithm_makes_the_error_endless() -> None:
    """From below zero to above it, whatever the other half says."""
    margin = margin_of("axes.roll.phase_delay")
    assert margin is not None
    assert math.isinf(Estimate(0.002, -0.002, 0.00205).error(margin))


def test_a_baseline_that_differs_from_itself_calls_nothing() -> None:
    """Stated without scatter, the flights before differ: no difference is called by that figure."""
    flights = [flight(0.0, 0.005, id="a"), flight(0.5, 0.005, id="b")]
    made = judge(flights, [flight(1.2, 0.005, id="c")], ONLY, scatter=0.0, axes=("roll",))
    assert made.against_itself is not None
    assert made.against_itself.outcome is Outcome.DIFFERS
    assert made.outcome is Outcome.NOT_ENOUGH
    assert "among themselves" in str(made.quantities[0].reason)


def test_what_the_baseline_had_and_the_flight_after_lacks_is_named() -> None:
    motors = {f"motors.each.{n}.offset": Estimate(0.0, -0.01, 0.01) for n in (1, 2)}
    before = FlightEstimates(
        "b", 60.0, {"known_controller": flight(0, 0.01).routes["known_controller"], "": motors}
    )
    made = judge([before], [flight(0.0, 0.01)], DEFAULTS, axes=())
    assert {text.partition(":")[0] for text in made.missing} == set(motors)
