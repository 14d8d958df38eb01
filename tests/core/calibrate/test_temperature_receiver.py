"""Bias against temperature, receiver channels, the holes of a magnetometer's directions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.stats import linregress

from asflown.core.calibrate.magnetometer import biggest_hole, cells_seen, sphere_fit, thinned
from asflown.core.calibrate.receiver import channels
from asflown.core.calibrate.temperature import temperature_slopes


def warmed(seed: int, count: int = 6000):
    numbers = np.random.default_rng(seed)
    temperature = 295.0 + 15.0 * (1 - np.exp(-np.linspace(0, 3, count)))
    slopes = np.array([[1e-4], [-3e-4], [0.0]])
    rates = slopes * (temperature - 300.0) + 0.002 * numbers.standard_normal((3, count))
    return rates, temperature, slopes[:, 0]


def test_the_slope_is_scipys():
    rates, temperature, _ = warmed(1)
    found = temperature_slopes(rates, temperature, 10.0)
    for one, row in zip(found, rates, strict=True):
        theirs = linregress(temperature, row)
        assert one.value == pytest.approx(theirs.slope, rel=1e-9)
        assert (one.high - one.value) == pytest.approx(2 * theirs.stderr, rel=0.5)


def test_the_slopes_interval_holds():
    held = []
    for seed in range(100):
        rates, temperature, truth = warmed(seed, 3000)
        found = temperature_slopes(rates, temperature, 10.0)
        held += [one.low <= t <= one.high for one, t in zip(found, truth, strict=True)]
    assert 0.91 <= np.mean(held) <= 0.985  # 300 figures


def test_a_temperature_that_did_not_move_gives_none():
    rates, temperature, _ = warmed(2)
    (one, *_) = temperature_slopes(rates, 295 + 0.1 * (temperature - 295), 10.0)
    assert one.value is None
    assert "moved by 1." in one.reason
    assert "moved by 0.0 K" in temperature_slopes(rates, np.full(6000, np.nan), 10.0)[0].reason


RATE = 50.0


def sticks(jitter: float = 1.0, centre: float = 1500.0, seed: int = 0) -> np.ndarray:
    """A channel at rest, swept to both ends, at rest again; three times over."""
    swept = centre + 500 * np.sin(np.linspace(0, 2 * np.pi, 200))
    one = np.concatenate([np.full(150, centre), swept, np.full(150, centre)])
    row = np.tile(one, 3)
    return row + jitter * np.random.default_rng(seed).standard_normal(row.size)


def test_channels_give_back_what_they_were_made_of():
    rows = np.vstack([sticks(1.0), sticks(2.0, 1520.0, 1), np.full(1500, 988.0)])
    first, second, dead = channels(rows, ("a", "b", "c"), RATE)
    assert first.centre.low <= 1500.0 <= first.centre.high
    assert first.jitter.low <= 1.0 <= first.jitter.high
    assert second.jitter.value == pytest.approx(2.0, rel=0.1)
    assert (first.low, first.high) == pytest.approx((1000, 2000), abs=6)
    assert abs(first.off_centre) < 0.01
    assert dead.is_dead
    assert dead.jitter.value is None
    assert not first.is_dead


def test_jitter_and_centre_intervals_hold():
    held, middle = [], []
    for seed in range(120):
        (one,) = channels(sticks(1.5, 1500.0, seed)[None], ("a",), RATE)
        held.append(one.jitter.low <= 1.5 <= one.jitter.high)
        middle.append(one.centre.low <= 1500.0 <= one.centre.high)
    assert 0.88 <= np.mean(held) <= 1.0
    assert 0.88 <= np.mean(middle) <= 1.0


def test_a_stick_that_never_rests_says_so():
    moving = 1500 + 400 * np.sin(np.linspace(0, 400, 2000))
    gaps = moving.copy()
    gaps[:100] = np.nan
    one, other = channels(np.vstack([moving, gaps]), ("a", "b"), RATE)
    assert "never rested" in one.jitter.reason
    assert other.missing == 100
    with pytest.raises(ValueError, match="too short"):
        channels(moving[None, :20], ("a",), RATE)


def test_the_sphere_is_scipys():
    numbers = np.random.default_rng(4)
    unit = numbers.standard_normal((300, 3))
    unit /= np.linalg.norm(unit, axis=1)[:, None]
    raw = 45.0 * unit + [10.0, -20.0, 5.0] + 0.2 * numbers.standard_normal((300, 3))
    centre, radius = sphere_fit(raw)
    theirs = least_squares(lambda p: np.linalg.norm(raw - p[:3], axis=1) - p[3], [0, 0, 0, 40]).x
    assert [*centre, radius] == pytest.approx(theirs, abs=0.01)
    with pytest.raises(ValueError, match="one plane"):
        sphere_fit(raw * [1, 1, 0])


def test_the_hole_is_where_nothing_was_read():
    numbers = np.random.default_rng(6)
    unit = numbers.standard_normal((6000, 3))
    unit /= np.linalg.norm(unit, axis=1)[:, None]
    gone = np.array([0.0, 0.6, 0.8])
    direction, reach = biggest_hole(unit[unit @ gone < np.cos(np.radians(40))])
    assert np.degrees(np.arccos(direction @ gone)) < 4
    assert np.degrees(reach) == pytest.approx(40, abs=4)
    assert cells_seen(unit).all()
    lying = np.repeat(unit[:50], 100, axis=0) + 1e-4 * numbers.standard_normal((5000, 3))
    assert len(thinned(lying)) <= 50
    assert len(thinned(np.full((5, 3), np.nan))) == 0
