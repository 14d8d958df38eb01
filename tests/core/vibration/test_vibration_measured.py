"""Levels of rotor lines against sines of known amplitude (a sine's rms is its amplitude over root two: check-values 16)."""

import math

import numpy as np
import pytest

from asflown.core.vibration.measure import measure_vibration

RATE = 1000.0


def flown(amplitudes=(0.02, 0.03), harmonic=0.5, seconds=12.0, seed=1, noise=2e-4):
    """Two rotors at speeds that move apart and together; amplitude with speed squared; white noise."""
    random = np.random.default_rng(seed)
    time = np.arange(round(seconds * RATE)) / RATE
    speed = np.stack(
        [150.0 + 12.0 * np.sin(0.9 * time + phase) + offset for phase, offset in ((0.0, 6.0), (1.3, -6.0))]
    )
    angle = 2.0 * np.pi * np.cumsum(speed, axis=1) / RATE
    rate = {}
    for axis in ("roll", "pitch", "yaw"):
        total = noise * math.sqrt(RATE / 2.0) * random.standard_normal(time.size)
        for number, amplitude in enumerate(amplitudes):
            force = amplitude * (speed[number] / 150.0) ** 2
            shift = random.uniform(0.0, 6.28)
            total += force * (np.sin(angle[number] + shift) + harmonic * np.sin(2 * angle[number] + shift))
        rate[axis] = total
    return rate, speed


def test_level_of_a_line_is_amplitude_over_root_two():
    rate, speed = flown()
    found = measure_vibration(rate, {}, speed, RATE, reference_speed=150.0)
    for order, share in ((1.0, 1.0), (2.0, 0.5)):
        level = found.line(order).at_reference["rate.roll"]
        true = share * math.hypot(0.02, 0.03) / math.sqrt(2.0)
        assert level.value == pytest.approx(true, rel=0.03)
        assert level.low < true < level.high


def test_levels_of_rotors_are_told_apart():
    rate, speed = flown()
    found = measure_vibration(rate, {}, speed, RATE, reference_speed=150.0)
    first, second = (one for one in found.rotors if one.order == 1.0)
    assert first.at_reference["rate.pitch"].value == pytest.approx(0.02 / math.sqrt(2.0), rel=0.04)
    assert second.at_reference["rate.pitch"].value == pytest.approx(0.03 / math.sqrt(2.0), rel=0.04)


def test_rotors_at_one_speed_are_not_told_apart():
    rate, speed = flown()
    found = measure_vibration(rate, {}, np.stack([speed[0], speed[0]]), RATE)
    assert all("not separable" in one.at_reference["rate.roll"].reason for one in found.rotors)
