"""The accelerometer in its three cases: exact digits, intervals that hold, and a real session."""

from __future__ import annotations

import math

import numpy as np
import pytest

from asflown.core.calibrate.accelerometer import Case, accelerometer_fit, case_of, on_attitude
from asflown.core.calibrate.gravity import ANYWHERE, Gravity, gravity_at
from asflown.core.calibrate.positions import Position, Rests, positions_of, together
from asflown.core.calibrate.sides import SIDES, missing, side_of, still_between

SIX = np.array([side.up for side in SIDES])
GAIN = np.array([[1.02, 0.01, -0.02], [0.005, 0.98, 0.015], [-0.01, 0.02, 1.01]])
OFFSET = np.array([0.05, -0.03, 0.10])
ONE_G = Gravity(1.0, 0.0)


def quiet(means: np.ndarray, error: float = 1e-9) -> Rests:
    return Rests(means, np.full(means.shape, error**2), 200, np.full(3, 10 * error**2))


def test_twelve_parameters_on_a_block_exactly():
    """Check-values 10.1 (method: ST AN4508): solution X of [raw 1] X = g, tolerance 1e-9."""
    g = 9.80665
    fit = accelerometer_fit(quiet(g * (SIX @ GAIN.T + OFFSET)), Gravity(g, 0.0), math.radians(0.01))
    assert fit.case is Case.SQUARE
    expected = [
        [0.980635059, -0.010405930, 0.019573060],
        [-0.005153413, 1.020772219, -0.015262031],
        [0.009811306, -0.020316340, 0.990595021],
    ]
    np.testing.assert_allclose(fit.matrix, expected, atol=1e-9)
    np.testing.assert_allclose(
        -fit.matrix @ fit.centre / g, [-0.051301237, 0.032407040, -0.100159558], atol=1e-9
    )
    assert [one.value for one in fit.scale] == pytest.approx([1.02, 0.98, 1.01], abs=1e-9)


def test_general_positions_are_scipys():
    """Against scipy.optimize.least_squares of the length with a triangular matrix, begun elsewhere."""
    from scipy.optimize import least_squares

    numbers = np.random.default_rng(5)
    ups = numbers.standard_normal((20, 3))
    ups = np.vstack([SIX, ups / np.linalg.norm(ups, axis=1)[:, None]])
    upper = np.array([[1.01, 0.02, -0.01], [0.0, 0.97, 0.015], [0.0, 0.0, 1.03]])
    raw = 9.81 * ups @ np.linalg.inv(upper).T + [0.3, -0.2, 0.5] + 0.002 * numbers.standard_normal(ups.shape)
    fit = accelerometer_fit(quiet(raw, 0.002), Gravity(9.81, 0.0))
    assert fit.case is Case.GENERAL

    def left(p):
        m = np.array([[p[3], p[4], p[5]], [0.0, p[6], p[7]], [0.0, 0.0, p[8]]])
        return np.linalg.norm((raw - p[:3]) @ m.T, axis=1) - 9.81

    theirs = least_squares(left, [0, 0, 0, 1, 0, 0, 1, 0, 1], xtol=1e-14, ftol=1e-14).x
    assert [one.value for one in fit.offset] == pytest.approx(theirs[:3], abs=2e-4)
    m = np.array([[theirs[3], theirs[4], theirs[5]], [0, theirs[6], theirs[7]], [0, 0, theirs[8]]])
    # a length does not see a turn: the symmetric products agree
    np.testing.assert_allclose(fit.matrix.T @ fit.matrix, m.T @ m, atol=1e-4)
    lengths = np.linalg.norm(np.linalg.inv(m), axis=1)
    assert [one.value for one in fit.scale] == pytest.approx(lengths, abs=1e-4)
    assert fit.chance is not None
    assert fit.widened == 1.0


def test_a_tilt_of_the_hand_does_not_shorten_the_scale():
    """Three degrees off: up/down pairs read cos 3° = 0.99863 short, the length does not."""
    ups = []
    for n, up in enumerate(SIX):
        across = np.roll(up, 1 + n % 2)
        ups.append(math.cos(math.radians(3)) * up + math.sin(math.radians(3)) * across)
    fit = accelerometer_fit(quiet(9.81 * np.array(ups), 1e-4), Gravity(9.81, 0.0))
    assert fit.case is Case.SIX
    for one in fit.scale:
        assert one.value == pytest.approx(1.0, abs=1e-6)
        assert one.high - one.low > 1e-4  # tilt times skew is in it
    assert fit.skew[0].value is None
    assert "fewer than nine" in fit.skew[0].reason


def test_it_knows_its_case():
    assert case_of(quiet(9.81 * SIX), None)[0] is Case.SIX
    assert case_of(quiet(9.81 * SIX), 0.002)[0] is Case.SQUARE
    case, why = case_of(quiet(9.81 * SIX[:4]), None)
    assert case is Case.TOO_FEW
    assert why.endswith("nose down, tail down missing")
    twice = quiet(9.81 * np.vstack([SIX, SIX]))
    case, why = case_of(twice, None)
    assert case is Case.SIX
    assert "half-way" in why
    leaning = np.vstack([SIX, [[0.7, 0.7, 0.0]]])
    assert "no side of a square block" in case_of(quiet(9.81 * leaning), 0.002)[1]
    with pytest.raises(ValueError, match="missing"):
        accelerometer_fit(quiet(9.81 * SIX[:5]), ANYWHERE)


def test_scatter_beyond_the_noise_widens_the_intervals():
    raw = 9.81 * np.vstack([SIX, SIX])
    raw[7] += [0.0, 0.0, 0.05]
    fit = accelerometer_fit(quiet(raw, 0.002), Gravity(9.81, 0.0))
    assert fit.chance < 1e-6
    assert fit.widened > 3


def test_what_an_error_does_to_attitude():
    """Offset b in a level reading tilts it by asin(b/g): 0.171 m/s2 is one degree."""
    raw = 9.80665 * SIX + [9.80665 * math.sin(math.radians(1.0)), 0.0, 0.0]
    said = {
        one.error: one for one in on_attitude(accelerometer_fit(quiet(raw), Gravity(9.80665, 0.0)), 9.80665)
    }
    assert said["offset x"].now == pytest.approx(1.0, abs=1e-6)
    assert said["offset y"].now == pytest.approx(0.0, abs=1e-6)


def test_gravity_is_that_of_the_ellipsoid():
    """WGS 84 normal gravity: 9.7803253359 at the equator, 9.8321849379 at the poles (NIMA TR8350.2, from memory)."""
    assert gravity_at(0.0).value == pytest.approx(9.7803253359, abs=1e-9)
    assert gravity_at(-90.0).value == pytest.approx(9.8321849379, abs=1e-8)
    assert gravity_at(45.0, 1000.0).value == pytest.approx(9.8062 - 0.003086, abs=1e-4)
    with pytest.raises(ValueError, match="latitude"):
        gravity_at(91.0)


def test_sides_and_what_is_missing():
    assert side_of(np.array([0.0, 0.3, -9.8])).name == "belly down"
    assert side_of(np.array([5.0, 5.0, 5.0])) is None
    assert [side.name for side in missing(SIX[2:])] == ["belly down", "back down"]
    assert len(still_between(SIX)) == 6


def test_rests_are_found_with_and_without_the_gyro():
    numbers = np.random.default_rng(1)
    parts = []
    for up in SIX[:3]:
        parts.append(9.81 * up[:, None] + 0.02 * numbers.standard_normal((3, 800)))
        parts.append(9.81 * up[:, None] + 2.0 * numbers.standard_normal((3, 200)))
    accel = np.hstack(parts)
    moving = np.tile(np.repeat([0.0, 1.0], [800, 200]), 3)
    rates = 0.001 * numbers.standard_normal(accel.shape) + moving * numbers.standard_normal(accel.shape)
    for gyro in (rates, None):
        used, unused = positions_of(accel, gyro, 100.0)
        assert [side_of(one.mean).name for one in used] == [side.name for side in SIDES[:3]]
        assert not unused
        assert all(5.5 <= one.seconds <= 8 for one in used)
    turning = accel[:, :800] + np.linspace(0, 0.5, 800)
    used, unused = positions_of(turning, 0.001 * numbers.standard_normal((3, 800)), 100.0)
    assert not used
    assert "still turning" in unused[0].why
    assert positions_of(np.full((3, 900), np.nan), None, 100.0) == ((), ())
    assert together([Position(np.zeros(3), np.full(3, 1e-4), 4, 0.0, 10.0)] * 3).dof == 12


def test_a_real_session_by_its_rests(shared):
    """imucal's example (MIT): offsets about +0.54 / -0.62 / +0.40 m/s2 in the data's ABOUT."""
    polars = pytest.importorskip("polars")
    table = polars.read_parquet(shared / "data" / "imu_sixpos" / "session.parquet")
    accel = np.array([table[f"acc_{axis}_mps2"] for axis in "xyz"], dtype=float)
    gyro = np.radians(np.array([table[f"gyro_{axis}_dps"] for axis in "xyz"], dtype=float))
    used, _ = positions_of(accel, gyro, 102.4)
    fit = accelerometer_fit(together(used), ANYWHERE)
    assert [one.value for one in fit.offset] == pytest.approx([0.54, -0.62, 0.40], abs=0.01)
    assert np.max(np.abs(fit.left)) < 0.006
