"""Limit cycles: told when they grow, not told in healthy flying; the full count is tools/flights/limit_cycle_run.py."""

import math

import numpy as np
import pytest

from asflown.core.vibration.limit_cycle import limit_cycle, limit_cycle_baseline
from asflown.errors import InputError

RATE = 1000.0


def noise(seed, seconds=40.0, scale=0.002):
    return scale * np.random.default_rng(seed).standard_normal(round(seconds * RATE))


def growing(frequency, seconds=40.0, start=20.0, growth=3.0, most=0.1):
    time = np.arange(round(seconds * RATE)) / RATE
    size = np.where(time < start, 0.0, np.minimum(1e-3 * np.exp(growth * (time - start)), most))
    return size * np.sin(2.0 * math.pi * frequency * time)


def test_growing_oscillation_is_told_with_its_frequency_and_strength():
    baseline = limit_cycle_baseline(noise(1), RATE)
    (found,) = limit_cycle(noise(2) + growing(48.0), RATE, baseline=baseline)
    assert found.frequency == pytest.approx(48.0, abs=2.0)
    # a sine's rms is its amplitude over root two (check-values 16); the bins are 2 Hz wide
    assert found.rms == pytest.approx(0.1 / math.sqrt(2.0), rel=0.12)
    assert 20.0 < found.start < found.told_at < 22.5
    assert found.end == pytest.approx(40.0, abs=0.5)
    assert found.growth_db > 20.0
    assert "48 Hz" in found.statement
    assert "not covered: oscillation slower than 12 Hz" in found.statement


def test_noise_alone_is_not_told():
    baseline = limit_cycle_baseline(noise(1), RATE)
    assert limit_cycle(noise(3, 120.0), RATE, baseline=baseline) == ()
    assert limit_cycle(3.0 * noise(4, 120.0), RATE, baseline=baseline) == ()  # all frequencies louder


def test_nothing_is_told_without_a_baseline():
    assert limit_cycle(noise(2) + growing(48.0), RATE, baseline=None) == ()


def test_what_is_commanded_is_not_told():
    baseline = limit_cycle_baseline(noise(1), RATE)
    shake = growing(30.0)
    assert limit_cycle(noise(2) + shake, RATE, baseline=baseline, command=shake) == ()
    assert limit_cycle(noise(2) + shake, RATE, baseline=baseline, command=noise(5)) != ()


@pytest.mark.parametrize("speed", [115.0, 470.0])  # the second order of the latter folds down to 60 Hz
def test_rotor_line_is_no_limit_cycle(speed):
    def line(turning):
        angle = 2.0 * math.pi * np.cumsum(turning) / RATE
        return 0.08 * (turning / 250.0) ** 2 * (np.sin(angle) + 0.6 * np.sin(2.0 * angle))

    time = np.arange(40_000) / RATE
    varied = 250.0 + 60.0 * np.sin(time) + 20.0 * np.sin(7.0 * time)
    baseline = limit_cycle_baseline(noise(1) + line(varied), RATE, rotor_speed=varied)
    steady = np.full(40_000, speed)
    rate = noise(2) + line(steady)
    assert limit_cycle(rate, RATE, baseline=baseline, rotor_speed=steady) == ()
    # the same without telemetry would be told: what the look-out for rotors is worth
    assert limit_cycle(rate, RATE, baseline=limit_cycle_baseline(noise(1), RATE)) != ()


@pytest.mark.parametrize("rate_hz", [500.0, 2000.0])
def test_other_log_rates(rate_hz):
    time = np.arange(round(30.0 * rate_hz)) / rate_hz
    quiet = 0.002 * np.random.default_rng(1).standard_normal(time.size)
    shake = np.where(time > 15.0, 0.05, 0.0) * np.sin(2.0 * math.pi * 40.0 * time)
    baseline = limit_cycle_baseline(quiet, rate_hz)
    (found,) = limit_cycle(quiet[::-1] + shake, rate_hz, baseline=baseline)
    assert found.frequency == pytest.approx(40.0, abs=2.0)


def test_unfit_baselines_are_refused():
    with pytest.raises(InputError, match="baseline takes 10 s"):
        limit_cycle_baseline(noise(1, 5.0), RATE)
    with pytest.raises(InputError, match="constant"):
        limit_cycle_baseline(np.zeros(20_000), RATE)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1004, 1011])
def test_simulated_loop_past_its_critical_gain_is_told_within_two_seconds_and_a_healthy_one_not(
    flights_run, seed
):
    craft = flights_run.Aircraft(seed, "linear")
    healthy = craft.fly(10_000 + seed, 60.0, "normal")
    baseline = limit_cycle_baseline(healthy["rate"], craft.log.rate, rotor_speed=healthy["speed"])

    def told(flight):
        return limit_cycle(flight["rate"], craft.log.rate, baseline=baseline, rotor_speed=flight["speed"])

    for number, activity in enumerate(("low", "normal", "high")):
        assert told(craft.fly(20_000 + 3 * seed + number, 30.0, activity)) == ()
    sick = told(craft.fly(30_000 + seed, 6.0, "low", 1.02))
    assert sick
    assert sick[0].told_at < 2.0
