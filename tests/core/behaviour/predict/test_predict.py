"""Predictions for other controllers, held against the truth of the aircraft (tools/flights/truth.py)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from asflown.core.behaviour.predict.controls import Controls
from asflown.core.behaviour.predict.plants import later, plants
from asflown.core.behaviour.predict.predict import predict
from asflown.core.behaviour.predict.result import Stability
from asflown.core.behaviour.simulate import Controller
from asflown.core.identified import Fitted

SEEDS = (1, 2, 3, 4)
AXES = ("roll", "pitch")


def with_derivative(controller: Controller, times: float) -> Controller:
    return replace(controller, kd=tuple(times * gain for gain in controller.kd))


def slow_filters(controller: Controller) -> Controller:
    def slower(parts: Any) -> Any:
        return tuple(replace(part, frequency=0.5 * part.frequency) for part in parts)

    return replace(
        controller, gyro_filters=slower(controller.gyro_filters), d_filters=slower(controller.d_filters)
    )


def half_gain(controller: Controller) -> Controller:
    return replace(controller, kp=tuple(0.5 * gain for gain in controller.kp))


def half_rate(controller: Controller) -> Controller:
    return replace(controller, loop_rate=0.5 * controller.loop_rate)


REFITS: dict[str, Callable[[Controller], Controller]] = {
    "nothing": lambda one: one,
    "derivative x0.4": lambda one: with_derivative(one, 0.4),
    "derivative x1.6": lambda one: with_derivative(one, 1.6),
    "slow filters": slow_filters,
    "half the gain": half_gain,
    "half the loop's rate": half_rate,
}


@pytest.mark.parametrize("name", REFITS)
@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_predicted_is_what_is_true(flown: Any, seed: int, name: str) -> None:
    """In still air, 60 s: the bars of the method's map (2 %, 2 deg, 0.7 dB), and the interval holds."""
    aircraft = flown(seed)
    new = REFITS[name](aircraft.controller)
    for axis in AXES:
        made = predict(
            aircraft.identified[axis],
            aircraft.controls(aircraft.controller, axis),
            aircraft.controls(new, axis),
        )
        true = aircraft.true(new, axis)
        assert made.after.stability is Stability.STABLE
        figures = made.after.figures
        assert figures["bandwidth"].value == pytest.approx(true.bandwidth, rel=0.02)
        assert figures["phase_margin"].value == pytest.approx(true.phase_margin, abs=2.0)
        assert figures["gain_margin"].value == pytest.approx(true.gain_margin, abs=0.7)
        assert figures["bandwidth"].low <= true.bandwidth <= figures["bandwidth"].high


@pytest.mark.parametrize("seed", SEEDS)
def test_eight_times_the_derivative_is_called_unstable(flown: Any, seed: int) -> None:
    aircraft = flown(seed)
    new = with_derivative(aircraft.controller, 8.0)
    assert not aircraft.holds(new)
    for axis in AXES:
        was, now = (aircraft.controls(one, axis) for one in (aircraft.controller, new))
        made = predict(aircraft.identified[axis], was, now)
        assert made.after.stability is Stability.UNSTABLE
        assert all(number.value is None for number in made.after.figures.values())
        assert "unstable" in str(made.after.figures["bandwidth"].reason)
        assert made.change["bandwidth"].value is None


def test_near_the_edge_nothing_is_promised(flown: Any) -> None:
    """The derivative that is just stable by truth: some drawn loops are not."""
    aircraft = flown(SEEDS[0])
    low, high = 1.0, 8.0
    for _ in range(20):
        middle = 0.5 * (low + high)
        stable = aircraft.holds(with_derivative(aircraft.controller, middle))
        low, high = (middle, high) if stable else (low, middle)
    new = with_derivative(aircraft.controller, low)
    called = {
        predict(
            aircraft.identified[axis],
            aircraft.controls(aircraft.controller, axis),
            aircraft.controls(new, axis),
        ).after.stability
        for axis in AXES
    }
    assert called & {Stability.UNSURE, Stability.UNSTABLE}


def test_the_same_controller_changes_nothing(flown: Any) -> None:
    aircraft = flown(SEEDS[0])
    same = aircraft.controls(aircraft.controller, "roll")
    made = predict(aircraft.identified["roll"], same, same)
    for name, change in made.change.items():
        assert change.value == (0.0 if name in ("gain_margin", "phase_margin", "overshoot") else 1.0)
    assert made.noise.value == made.noise.low == made.noise.high == 1.0
    assert made.remarks == ()


def test_noise_of_the_closed_loop_is_that_of_an_integral_of_scipy(flown: Any) -> None:
    """The ratio for twice the derivative's filter, by scipy.integrate over the true loop."""
    from scipy.integrate import quad

    aircraft = flown(SEEDS[1])
    new = with_derivative(aircraft.controller, 2.0)

    def passed(controller: Controller) -> float:
        def power(frequency: float) -> float:
            made = aircraft.truth.responses(
                aircraft.airframe, controller, aircraft.point, np.array([frequency])
            )
            return float(abs(made.feedback[0, 0] / (1 + made.loop[0, 0])) ** 2)

        points = [5.0, 20.0, 60.0, 150.0, 500.0, 1000.0]
        return float(quad(power, 0.5, 0.5 * controller.loop_rate, points=points, limit=200)[0]) ** 0.5

    was, now = (aircraft.controls(one, "roll") for one in (aircraft.controller, new))
    made = predict(aircraft.identified["roll"], was, now)
    assert made.noise.value == pytest.approx(passed(new) / passed(aircraft.controller), rel=0.01)


def test_a_delay_of_the_loop_turns_the_plant_by_its_phase(flown: Any) -> None:
    """360 deg times frequency times delay: textbook."""
    aircraft = flown(SEEDS[0])
    fast, slow = (
        aircraft.controls(replace(aircraft.controller, loop_rate=rate), "roll") for rate in (4000.0, 1000.0)
    )
    by = later(fast, slow)
    steps = aircraft.controller.computation_steps + 0.5
    assert by.seconds == pytest.approx(steps * 0.75e-3)
    assert by.spread == 0.0
    at = np.array([10.0, 40.0])
    turned = plants(aircraft.identified["roll"], at, by) / plants(aircraft.identified["roll"], at)
    assert np.degrees(np.angle(turned[0])) == pytest.approx(-360.0 * at * by.seconds, abs=1e-9)


def test_a_computing_time_that_is_not_declared_is_taken_with_its_doubt(flown: Any) -> None:
    aircraft = flown(SEEDS[0])
    was = aircraft.controls(replace(aircraft.controller, loop_rate=4000.0), "roll", latency=False)
    now = aircraft.controls(replace(aircraft.controller, loop_rate=1000.0), "roll", latency=False)
    by = later(was, now)
    assert (by.seconds, by.spread) == pytest.approx((1.5 * 0.75e-3, 0.5 * 0.75e-3))
    assert "not declared" in str(by.remark)
    wide = predict(aircraft.identified["roll"], was, now)
    sure = predict(
        aircraft.identified["roll"],
        aircraft.controls(replace(aircraft.controller, loop_rate=4000.0, computation_steps=1), "roll"),
        aircraft.controls(replace(aircraft.controller, loop_rate=1000.0, computation_steps=1), "roll"),
    )
    assert by.remark in wide.remarks
    margins = [made.after.figures["phase_margin"] for made in (wide, sure)]
    assert margins[0].high - margins[0].low > margins[1].high - margins[1].low
    assert margins[0].value == pytest.approx(margins[1].value, abs=0.01)


def test_from_a_controller_read_from_the_log(flown: Any) -> None:
    """Before from the log, after declared: the bandwidth within the model-free bar (4 %), noise not told."""
    aircraft = flown(SEEDS[2])
    found = aircraft.identified["roll"]
    assert found.controller is not None
    new = half_gain(aircraft.controller)
    made = predict(found, Controls(fitted=found.controller), aircraft.controls(new, "roll"))
    assert made.before.figures["bandwidth"].value == pytest.approx(
        aircraft.true(aircraft.controller, "roll").bandwidth, rel=0.04
    )
    assert made.after.figures["bandwidth"].value == pytest.approx(
        aircraft.true(new, "roll").bandwidth, rel=0.02
    )
    assert made.noise.value is None
    assert "hold and computing time" in " ".join(made.remarks)


def test_a_controller_is_declared_or_read_from_a_log() -> None:
    with pytest.raises(ValueError, match="one of them"):
        Controls()
    with pytest.raises(ValueError, match="covariance"):
        Fitted((1.0, 2.0), ((1.0, 0.0),))


def test_a_loop_too_slow_to_be_seen_is_refused(flown: Any) -> None:
    aircraft = flown(SEEDS[0])
    slow = aircraft.controls(replace(aircraft.controller, loop_rate=250.0), "roll")
    with pytest.raises(ValueError, match="400 Hz or more"):
        predict(aircraft.identified["roll"], slow, slow)
