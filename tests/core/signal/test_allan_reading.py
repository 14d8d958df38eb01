"""Figures read off an Allan curve, on noise made with known figures (IEEE Std 952-1997 annex C, from memory)."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.signal.allan import allan_deviation
from asflown.core.signal.allan_reading import FLICKER_BOTTOM, read_off

RATE, SAMPLES = 200.0, 40_000


def white(rng, n):
    return rng.normal(size=SAMPLES) * n * np.sqrt(RATE)


def walk(rng, k):
    return np.cumsum(rng.normal(size=SAMPLES)) * k / np.sqrt(RATE)


def flicker(rng, b):
    """One-sided density b² / (pi f), made bin by bin."""
    f = np.fft.rfftfreq(SAMPLES, 1 / RATE)
    f[0] = f[1]
    size = b * SAMPLES * np.sqrt(RATE / SAMPLES / (4 * np.pi * f))
    return np.fft.irfft((rng.normal(size=f.size) + 1j * rng.normal(size=f.size)) * size, SAMPLES)


def test_the_bottom_of_flicker_noise():
    assert pytest.approx(0.6642824703, abs=5e-11) == FLICKER_BOTTOM


def test_units_of_angle_random_walk():
    """0.01 deg/√h is 1.6666667e-4 deg/s/√Hz, and 0.6 deg/h at 1 s (own arithmetic)."""
    n = 0.01 / np.sqrt(3600.0)
    assert n == pytest.approx(1.6666667e-4, rel=1e-7)
    assert n * 3600 == pytest.approx(0.6)


def test_white_noise_alone():
    y = np.random.default_rng(0).normal(scale=0.1, size=400_000)
    found = read_off(allan_deviation(y, RATE))
    expected = 0.1 / np.sqrt(RATE)
    assert found.white_noise.value == pytest.approx(expected, rel=0.005)
    assert found.white_noise.low < expected < found.white_noise.high
    assert found.white_noise.high / found.white_noise.low < 1.02
    assert found.white_noise.unit == "rad/s/√Hz"
    for none in (found.bias_instability, found.bias_walk):
        assert none.value is None
        assert "log the sensor at rest for" in none.reason


def cover(make, figure, expected, flights=60):
    """Share of intervals that hold the true figure, and the mean of value over true; all must be given."""
    rng = np.random.default_rng(11)
    found = [getattr(read_off(allan_deviation(make(rng), RATE, thin=True)), figure) for _ in range(flights)]
    assert all(one.value is not None for one in found)
    held = [one.low <= expected <= one.high for one in found]
    return np.mean(held), np.mean([one.value for one in found]) / expected


@pytest.mark.parametrize(
    "make, figure, expected",
    [
        (lambda rng: white(rng, 0.01), "white_noise", 0.01),
        (lambda rng: white(rng, 0.01) + walk(rng, 0.01), "white_noise", 0.01),
        (lambda rng: white(rng, 0.01) + walk(rng, 0.01), "bias_walk", 0.01),
        (lambda rng: white(rng, 0.02) + flicker(rng, 0.3), "bias_instability", 0.3),
    ],
    ids=["N alone", "N with K", "K with N", "B with N"],
)
def test_intervals_hold_the_true_figure(make, figure, expected):
    """60 flights: below 0.85 has a chance of one in a thousand were the true cover 0.95."""
    share, ratio = cover(make, figure, expected)
    assert share >= 0.85
    # walk over 200 s has few degrees of freedom, and some of it passes for flicker: 9 % low on average
    assert ratio == pytest.approx(1.0, abs=0.15 if figure == "bias_walk" else 0.03)


def test_bias_walk_is_not_seen_in_white_noise():
    rng = np.random.default_rng(12)
    found = [read_off(allan_deviation(white(rng, 1.0), RATE, thin=True)) for _ in range(30)]
    assert sum(one.bias_walk.value is not None for one in found) <= 2


def test_a_sensor_without_noise_or_a_short_log_has_reasons():
    for y in (np.zeros(1000), np.random.default_rng(0).normal(size=10)):
        found = read_off(allan_deviation(y, RATE), unit="m/s2")
        assert found.white_noise.value is None
        assert "log the sensor at rest for a minute" in found.white_noise.reason
        assert found.bias_walk.unit == "m/s2/√s"
