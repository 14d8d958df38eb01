"""Bias, noise, Allan figures and six positions: known truths, and a real six-position session."""

from __future__ import annotations

import json

import numpy as np
import pytest

from asflown.core.calibrate.allan_read import gyro_allan
from asflown.core.calibrate.six_position import SIX, position_means, six_position, turned, up_down
from asflown.core.calibrate.still import at_rest, spans_of, still_rows

RATE = 500.0


def ground(seed=0, seconds=12.0, noise=1e-4, flight=20.0):
    """At rest, then flying: rates (3, n), accelerations (3, n), motors stopped (n,)."""
    rng = np.random.default_rng(seed)
    rest, fly = int(seconds * RATE), int(flight * RATE)
    bias = np.array([0.01, -0.004, 0.002])[:, None]
    rates = bias + noise * np.sqrt(RATE / 2) * rng.normal(size=(3, rest + fly))
    accel = np.array([0.1, -0.2, -9.79])[:, None] + 0.002 * np.sqrt(RATE / 2) * rng.normal(
        size=(3, rest + fly)
    )
    rates[:, rest:] += 0.5 * rng.normal(size=(3, fly))
    return rates, accel, np.arange(rest + fly) < rest


def test_bias_and_noise_cover_the_truth():
    bias, density = [], []
    for seed in range(60):
        rates, accel, stopped = ground(seed)
        found = at_rest(rates, accel, RATE, stopped)
        bias += [m.low <= t <= m.high for m, t in zip(found.gyro_bias, (0.01, -0.004, 0.002), strict=True)]
        density += [m.low <= 1e-4 <= m.high for m in found.gyro_noise]
        assert found.accel_noise[2].value == pytest.approx(0.002, rel=0.05)
        assert found.accel_norm.value == pytest.approx(np.sqrt(9.79**2 + 0.05), rel=1e-3)
        (span,) = found.spans
        assert span.start == 0
        assert 11 <= span.end <= 12
    # 180 figures: 95 % has a binomial spread of 1.6 %.
    assert 0.90 <= np.mean(bias) <= 0.99
    assert 0.90 <= np.mean(density) <= 0.995


def test_rest_is_found_without_knowing_the_motors():
    rates, _, stopped = ground(3)
    rows = still_rows(rates, RATE)
    assert np.mean(rows[stopped]) > 0.9
    assert not rows[~stopped].any()
    carried = rates.copy()
    carried[:, 2500:3000] += 0.3
    assert len(spans_of(still_rows(carried, RATE), RATE)) == 2


def test_never_still_says_what_to_log():
    rates, accel, _ = ground(4)
    told = at_rest(rates[:, 6000:], accel[:, 6000:], RATE)
    assert "log 10 s on the ground" in told.gyro_bias[0].reason
    assert told.spans == ()
    assert "never lay still" in at_rest(np.full((3, 5000), np.nan), None, RATE).gyro_bias[0].reason
    assert "never lay still" in at_rest(rates[:, :5], None, RATE).gyro_bias[0].reason
    assert "not logged" in at_rest(rates, None, RATE).accel_norm.reason


def test_allan_of_a_long_rest():
    rng = np.random.default_rng(0)
    rates = 1e-4 * np.sqrt(100) * rng.normal(size=(3, 120_000))
    found = gyro_allan(rates, 100.0)
    # White noise of standard deviation s at rate f has N = s / sqrt(f) (IEEE Std 952, from memory).
    for reading in found.readings:
        assert reading.white_noise.value == pytest.approx(1e-4, rel=0.02)
        assert reading.bias_walk.value is None or reading.bias_walk.value < 1e-5
    assert "log 10 minutes" in gyro_allan(rates[:, :50_000], 100.0).readings[0].white_noise.reason


def test_allan_does_not_mind_averaging_first():
    rng = np.random.default_rng(1)
    fast = np.cumsum(1e-6 * rng.normal(size=(3, 240_000)), axis=1) + 1e-3 * rng.normal(size=(3, 240_000))
    slow = gyro_allan(fast.reshape(3, -1, 4).mean(axis=2), 100.0)
    found = gyro_allan(fast, 400.0)
    np.testing.assert_allclose(found.curves[0].deviation, slow.curves[0].deviation)


GAIN = np.array([[1.02, 0.01, -0.02], [0.005, 0.98, 0.015], [-0.01, 0.02, 1.01]])
OFFSET = np.array([0.05, -0.03, 0.10])


def test_twelve_parameters_exactly():
    """Check-values 10.1: digits computed there by least squares and by the matrix inverse, tolerance 1e-9."""
    raw = SIX @ GAIN.T + OFFSET
    rows = [(1.07, -0.025, 0.09), (-0.97, -0.035, 0.11), (0.06, 0.95, 0.12)]
    np.testing.assert_allclose(raw[:3], rows, atol=1e-12)
    found = six_position(raw, SIX)
    expected = [
        [0.980635059, -0.005153413, 0.009811306],
        [-0.010405930, 1.020772219, -0.020316340],
        [0.019573060, -0.015262031, 0.990595021],
        [-0.051301237, 0.032407040, -0.100159558],
    ]
    np.testing.assert_allclose(found.solution, expected, atol=1e-9)
    np.testing.assert_allclose(found.gain, GAIN, atol=1e-12)
    np.testing.assert_allclose(found.offset, OFFSET, atol=1e-12)
    assert found.residual < 1e-12
    np.testing.assert_allclose(found.corrected(raw), SIX, atol=1e-12)
    assert up_down(1.07, -0.97) == (pytest.approx(0.05), pytest.approx(1.02))


def test_positions_that_leave_a_direction_out_are_refused():
    with pytest.raises(ValueError, match="take all six"):
        six_position(np.repeat(SIX[:3], 2, axis=0), np.repeat(SIX[:3], 2, axis=0))
    with pytest.raises(ValueError, match="six positions or more"):
        six_position(SIX[:5], SIX[:5])
    with pytest.raises(ValueError, match="take all six"):
        six_position(np.full((6, 3), np.nan), SIX)


def test_a_real_six_position_session(shared):
    """github.com/mad-lab-fau/imucal, example_ferraris_session (MIT): six faces and three turns."""
    polars = pytest.importorskip("polars")
    folder = shared / "data" / "imu_sixpos"
    table = polars.read_parquet(folder / "session.parquet")
    sections = json.loads((folder / "sections.json").read_text())
    accel = np.array([table[f"acc_{axis}_mps2"] for axis in "xyz"], dtype=float)
    gyro = np.array([table[f"gyro_{axis}_dps"] for axis in "xyz"], dtype=float)
    faces = ["x_p", "x_a", "y_p", "y_a", "z_p", "z_a"]
    means = position_means(accel, [(sections[f]["start"], sections[f]["end"]) for f in faces])
    found = six_position(means, 9.80665 * SIX)
    offsets = [up_down(means[2 * i, i], means[2 * i + 1, i])[0] for i in range(3)]
    # The data's ABOUT: offsets about +0.54 / -0.62 / +0.40 m/s2, turns -372 / -355 / -359 deg.
    assert offsets == pytest.approx([0.54, -0.62, 0.40], abs=0.01)
    assert found.offset == pytest.approx(offsets, abs=0.05)
    assert np.linalg.norm(found.corrected(means), axis=1) == pytest.approx(9.80665, abs=0.02)
    assert found.residual < 0.02
    for axis, (name, wanted) in enumerate((("x_rot", -372), ("y_rot", -355), ("z_rot", -359))):
        part = slice(sections[name]["start"], sections[name]["end"])
        rest = slice(sections["x_p"]["start"], sections["x_p"]["end"])
        angle = turned(gyro[axis, part], 102.4, gyro[axis, rest], 7.0)
        assert angle.value == pytest.approx(wanted, abs=2.5)
        assert angle.high - angle.low < 2
    assert "hold still" in turned(gyro[0, :10], 102.4, gyro[0, :3], 0.1).reason
