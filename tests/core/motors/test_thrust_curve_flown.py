"""The thrust curve from flights: the simulated population, whose exponents are known, and made signals."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from asflown.core.motors.thrust import Stretch, thrust_curve

RATE = 100.0
sys.path.insert(0, str(Path(__file__).resolve().parents[3] / "tools" / "flights"))


def made(exponent, seed=0, seconds=60.0, voltage_power=1.0, gust=0.0, hold=0.0, punches=10, offset=0.0):
    """Motors, accelerometer, voltage, stick; ``hold``: how much the throttle answers the accelerometer."""
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    stick = np.full(n, 0.4)
    for start in rng.uniform(2, seconds - 3, punches):
        stick[int(start * RATE) : int((start + rng.uniform(0.3, 0.8)) * RATE)] += rng.uniform(-0.12, 0.3)
    stick = np.convolve(stick, np.ones(15) / 15, "same")
    stick[:20], stick[-20:] = 0.4, 0.4
    smooth = np.exp(-np.arange(150) / 30)
    push = gust * np.convolve(rng.normal(size=n), smooth / np.sqrt(np.sum(smooth**2)), "same")
    voltage = 16.5 - 1.5 * np.arange(n) / n - 2.0 * (stick - 0.4)
    differences = 0.02 * rng.normal(size=(3, n))
    pattern = np.array([[1, 1, -1, -1], [1, -1, 1, -1], [1, -1, -1, 1]]).T
    motors, force, speed = np.empty((4, n)), np.empty(n), np.full(4, 0.4)
    felt = 9.8
    for k in range(n):
        throttle = stick[k] - hold * (felt - 9.8)
        motors[:, k] = np.clip(throttle + pattern @ differences[:, k], 0.02, 1)
        speed += (motors[:, k] * (voltage[k] / 15.5) ** voltage_power - speed) / (0.03 * RATE)
        force[k] = 9.8 * np.mean((speed / 0.41) ** exponent) + push[k]
        felt += (force[k] - felt) / (0.2 * RATE)
    return motors, -force - offset + 1.0 * rng.normal(size=n), voltage, stick


@pytest.mark.slow
@pytest.mark.parametrize("structure", ["linear", "quadratic", "unequal", "compensated"])
def test_the_population(structure):
    population = pytest.importorskip("population")
    hits, errors, words = [], [], []
    for seed in range(700, 710):
        aircraft = population.draw(seed, structure)
        flight = population.fly(seed, structure, 60.0, "normal", aircraft=aircraft)
        values = {name: np.asarray(column, dtype=float) for name, column in flight.values.items()}
        motors = np.array([values[f"motor.{i}"] for i in (1, 2, 3, 4)])
        found = thrust_curve([Stretch(motors, values["accel.z"], values["pack_voltage"])], flight.log.rate)
        truth = aircraft[0].exponent
        hits.append(found.exponent.low <= truth <= found.exponent.high)
        errors.append(found.exponent.value / truth - 1)
        words.append(found.compensation)
    # 10 flights: fewer than 8 happens in 1 of 100 sets at 95 %.
    assert np.sum(hits) >= 8
    assert np.sqrt(np.mean(np.square(errors))) < 0.015
    # in all of them the logged commands are those after compensation, so thrust follows the voltage
    assert np.mean(["follows the voltage" in word for word in words]) > 0.7


@pytest.mark.parametrize("exponent", [1.0, 1.4, 2.0])
def test_made_flights_with_an_accelerometer_offset(exponent):
    hits, errors = [], []
    for seed in range(12):
        offset = 0.03 * np.random.default_rng(seed).normal()
        motors, accel, voltage, _ = made(exponent, seed, 40.0, offset=offset)
        found = thrust_curve([Stretch(motors, accel, voltage)], RATE).exponent
        hits.append(found.low <= exponent <= found.high)
        errors.append(found.value / exponent - 1)
    assert np.sum(hits) >= 10  # fewer happen in 2 of 100 sets
    assert np.sqrt(np.mean(np.square(errors))) < 0.03


def test_where_the_firmware_makes_up_for_the_voltage_after_the_log():
    motors, accel, voltage, _ = made(2.0, 1, voltage_power=0.0)
    found = thrust_curve([Stretch(motors, accel, voltage)], RATE)
    assert "made up for after" in found.compensation
    assert found.voltage_exponent.low <= 0 <= found.voltage_exponent.high
    seen = thrust_curve([Stretch(*made(2.0, 1)[:3])], RATE)
    assert "what the motors got" in seen.compensation
    assert seen.voltage_exponent.low <= 2 <= seen.voltage_exponent.high


def test_height_hold_needs_the_stick_as_instrument():
    """The throttle answers gusts that the accelerometer feels: without instrument the exponent is far off."""
    plain, helped, hits = [], [], []
    for seed in range(10):
        motors, accel, voltage, stick = made(2.0, seed, gust=1.2, hold=0.02, punches=14)
        bare = thrust_curve([Stretch(motors, accel, voltage)], RATE).exponent.value
        plain += [] if bare is None else [bare]
        found = thrust_curve([Stretch(motors, accel, voltage, stick)], RATE).exponent
        if found.value is not None:
            helped.append(found.value)
            hits.append(found.low <= 2 <= found.high)
    assert abs(np.mean(plain) - 2) > 2 * abs(np.mean(helped) - 2)
    assert np.mean(helped) == pytest.approx(2, abs=0.1)
    assert len(hits) >= 8
    assert np.sum(hits) >= len(hits) - 2


def test_what_cannot_be_told_says_what_to_fly():
    motors, accel, voltage, _ = made(2.0, 3, punches=0, gust=1.5, seconds=20.0)
    assert "quick rise of throttle" in thrust_curve([Stretch(motors, accel, voltage)], RATE).exponent.reason
    assert "check the column" in thrust_curve([Stretch(motors, -accel, voltage)], RATE).exponent.reason
    assert "4 s" in thrust_curve([Stretch(motors[:, :150], accel[:150], voltage[:150])], RATE).exponent.reason
    assert "too slow" in thrust_curve([Stretch(motors, accel, voltage)], 10.0).exponent.reason


def test_without_voltage_the_interval_is_wider_and_says_so():
    motors, accel, voltage, _ = made(1.5, 5)
    bare = thrust_curve([Stretch(motors, accel)], RATE).exponent
    full = thrust_curve([Stretch(motors, accel, voltage)], RATE).exponent
    assert bare.high - bare.low > 2 * (full.high - full.low)
    assert "voltage is not logged" in bare.caveats[0]
    assert bare.low <= 1.5 <= bare.high


def test_two_stretches_tell_as_much_as_their_whole():
    motors, accel, voltage, _ = made(1.5, 6, 80.0)
    n = 40 * int(RATE)
    parts = [Stretch(motors[:, s], accel[s], voltage[s]) for s in (slice(None, n), slice(n, None))]
    whole = thrust_curve([Stretch(motors, accel, voltage)], RATE).exponent
    both = thrust_curve(parts, RATE).exponent
    assert both.value == pytest.approx(whole.value, abs=0.02)
