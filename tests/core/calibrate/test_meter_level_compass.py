"""Meter lines, level trim and the compass's ellipsoid, against certified digits and reference libraries."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from asflown.core.calibrate.least_squares import solve
from asflown.core.calibrate.level import level_trim, tilt
from asflown.core.calibrate.magnetometer import coverage, ellipsoid_fit
from asflown.core.calibrate.meter import meter_fit


def norris() -> tuple[np.ndarray, np.ndarray]:
    """NIST StRD Norris (itl.nist.gov/div898/strd), as it comes in the scipy wheel: rows of y and x."""
    import scipy.stats

    place = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_linregress" / "Norris.dat"
    if not place.is_file():
        pytest.skip("scipy came without its test data")
    rows = [line.split() for line in place.read_text().splitlines()[60:] if line.strip()]
    data = np.array([[float(a), float(b)] for a, b in rows])
    return data[:, 1], data[:, 0]


def test_norris_to_its_certified_digits():
    """Certified: B0 -0.262323073774029 (sd 0.232818234301152), B1 1.00211681802045 (sd 0.429796848199937E-03)."""
    x, y = norris()
    assert x.size == 36
    fit = meter_fit(x, y)
    t = 2.032244509317718  # two-sided 95 % of Student's t, 34 degrees of freedom (scipy.stats.t)
    assert fit.scale.value == pytest.approx(1.00211681802045, rel=1e-11)
    assert fit.offset.value == pytest.approx(-0.262323073774029, rel=1e-9)
    assert (fit.scale.high - fit.scale.low) / 2 / t == pytest.approx(0.429796848199937e-3, rel=1e-8)
    assert (fit.offset.high - fit.offset.low) / 2 / t == pytest.approx(0.232818234301152, rel=1e-8)
    assert fit.residual == pytest.approx(0.884796396144373, rel=1e-10)


def test_longley_to_its_certified_digits():
    """NIST StRD Longley, ill-conditioned on purpose (certified values from memory, section 9 of the check values)."""
    longley = pytest.importorskip("statsmodels.datasets").longley.load_pandas()
    design = np.column_stack([np.ones(16), longley.exog.to_numpy(float)])
    solved = solve(design, longley.endog.to_numpy(float))
    certified = [
        (-3482258.63459582, 890420.383607373),
        (15.0618722713733, 84.9149257747669),
        (-0.0358191792925910, 0.0334910077722432),
        (-2.02022980381683, 0.488399681651699),
        (-1.03322686717359, 0.214274163161675),
        (-0.0511041056535807, 0.226073200069370),
        (1829.15146461355, 455.478499142212),
    ]
    assert solved.value == pytest.approx([value for value, _ in certified], rel=1e-7)
    assert solved.error == pytest.approx([error for _, error in certified], rel=1e-7)
    assert solved.variance**0.5 == pytest.approx(304.854073561965, rel=1e-7)
    assert solved.dof == 9
    # the normal equations lose nine digits here, which is the point
    normal = np.linalg.solve(design.T @ design, design.T @ longley.endog.to_numpy(float))
    assert abs(normal[0] / certified[0][0] - 1) > abs(solved.value[0] / certified[0][0] - 1)


def test_weights_are_those_of_statsmodels():
    statsmodels = pytest.importorskip("statsmodels.api")
    numbers = np.random.default_rng(1)
    shown = numbers.uniform(9, 17, 9)
    error = numbers.uniform(0.01, 0.2, 9)
    true = 1.02 * shown - 0.3 + error * numbers.standard_normal(9)
    theirs = statsmodels.WLS(true, statsmodels.add_constant(shown), weights=1 / error**2).fit()
    ours = meter_fit(shown, true, error)
    low, high = theirs.conf_int(0.05).T
    assert [ours.offset.value, ours.scale.value] == pytest.approx(theirs.params, rel=1e-9)
    assert [ours.offset.low, ours.scale.low] == pytest.approx(low, rel=1e-9)
    assert [ours.offset.high, ours.scale.high] == pytest.approx(high, rel=1e-9)


def test_a_line_through_0_is_that_of_statsmodels():
    statsmodels = pytest.importorskip("statsmodels.api")
    numbers = np.random.default_rng(2)
    shown = numbers.uniform(9, 17, 6)
    true = 1.013 * shown + 0.02 * numbers.standard_normal(6)
    theirs = statsmodels.OLS(true, shown).fit()
    ours = meter_fit(shown, true).scale_alone
    assert [ours.low, ours.value, ours.high] == pytest.approx(
        [*theirs.conf_int(0.05)[0][:1], theirs.params[0], theirs.conf_int(0.05)[0][1]], rel=1e-9
    )
    whole = statsmodels.OLS(true, statsmodels.add_constant(shown)).fit()
    ends = whole.get_prediction(statsmodels.add_constant(np.array([shown.min(), shown.max()]))).conf_int(
        alpha=0.05
    )
    assert meter_fit(shown, true).reach == pytest.approx(np.max(ends[:, 1] - ends[:, 0]) / 2, rel=1e-9)


def test_two_readings_need_the_meters_own_error():
    shown, true = np.array([10.0, 16.0]), np.array([10.1, 16.3])
    fit = meter_fit(shown, true)
    assert fit.scale.value is None
    assert "take a third" in (fit.scale.reason or "")
    fit = meter_fit(shown, true, np.array([0.02, 0.02]))
    assert fit.scale.value == pytest.approx(6.2 / 6.0)
    assert (fit.scale.high - fit.scale.low) / 2 == pytest.approx(
        1.959964 * 0.02 * math.sqrt(2) / 6.0, rel=1e-6
    )
    assert "same value" in (meter_fit(np.array([12.0, 12.0]), true).scale.reason or "")
    with pytest.raises(ValueError, match="two readings or more"):
        meter_fit(np.array([1.0]), np.array([1.0]))
    with pytest.raises(ValueError, match="error above 0"):
        meter_fit(shown, true, np.array([0.0, 1.0]))


@pytest.mark.parametrize("stated", [True, False])
def test_meter_intervals_hold_what_they_say(stated):
    numbers = np.random.default_rng(20261127)
    held = 0
    for _ in range(500):
        shown = numbers.uniform(9, 17, 4)
        true = 0.97 * shown + 0.2 + 0.03 * numbers.standard_normal(4)
        fit = meter_fit(shown, true, np.full(4, 0.03) if stated else None)
        held += fit.scale.low <= 0.97 <= fit.scale.high
    assert 0.93 <= held / 500 <= 0.97


# ------------------------------------------------------------------------------------ the compass


def turned(count: int, seed: int = 0) -> np.ndarray:
    made = np.random.default_rng(seed).standard_normal((count, 3))
    return made / np.linalg.norm(made, axis=1)[:, None]


def test_the_published_ellipsoid_is_found():
    """Centre (-50, 20, 100), semi-axes 30, 20, 50: field strength 31.0723 as printed (section 10.2 of the check values)."""
    raw = turned(400) * [30.0, 20.0, 50.0] + [-50.0, 20.0, 100.0]
    fit = ellipsoid_fit(raw)
    assert fit.centre == pytest.approx([-50.0, 20.0, 100.0], abs=1e-8)
    assert fit.field == pytest.approx(31.072325060, rel=1e-9)
    assert round(fit.field, 4) == 31.0723
    assert np.linalg.det(fit.matrix) == pytest.approx(1.0, rel=1e-9)
    assert fit.residual < 1e-9
    assert np.linalg.norm(fit.corrected(raw), axis=1) == pytest.approx(np.full(400, fit.field), rel=1e-9)


def test_a_turned_ellipsoid_is_found_too_as_scipy_finds_it():
    """Against scipy.optimize.least_squares of the geometric problem, begun elsewhere."""
    from scipy.optimize import least_squares

    numbers = np.random.default_rng(3)
    soft = np.array([[1.1, 0.05, -0.03], [0.05, 0.92, 0.04], [-0.03, 0.04, 1.0]])
    raw = (
        48.0 * turned(600, 4) @ np.linalg.inv(soft)
        + [12.0, -7.0, 30.0]
        + 0.1 * numbers.standard_normal((600, 3))
    )
    fit = ellipsoid_fit(raw)

    def left(p):
        m = np.array([[p[3], p[4], p[5]], [p[4], p[6], p[7]], [p[5], p[7], p[8]]])
        return np.linalg.norm((raw - p[:3]) @ m, axis=1) - 1.0

    theirs = least_squares(left, [0, 0, 0, 0.02, 0, 0, 0.02, 0, 0.02], x_scale=[10] * 3 + [0.01] * 6).x
    assert fit.centre == pytest.approx(theirs[:3], abs=0.05)
    assert fit.centre == pytest.approx([12.0, -7.0, 30.0], abs=5 * float(fit.error.max()))


def test_the_centres_error_holds_what_it_says():
    numbers = np.random.default_rng(20261127)
    held = 0
    for seed in range(500):
        raw = 45.0 * turned(200, seed) * [1.05, 0.95, 1.0] + [5.0, -3.0, 8.0]
        fit = ellipsoid_fit(raw + 0.3 * numbers.standard_normal((200, 3)))
        held += int(np.sum(np.abs(fit.centre - [5.0, -3.0, 8.0]) <= 1.96 * fit.error))
    assert 0.92 <= held / 1500 <= 0.98


def test_coverage_says_whether_it_may_be_used():
    assert coverage(turned(5000)) == 1.0
    half = turned(5000)
    half = half[half[:, 2] > 0]
    assert coverage(half) == pytest.approx(0.5)
    flat = turned(4000, 2)
    flat = flat[np.abs(flat[:, 2]) < 0.2]
    assert not ellipsoid_fit(flat * 40.0 + 0.01 * turned(len(flat), 7)).is_fit_for_use


def test_readings_on_no_ellipsoid_are_refused():
    numbers = np.random.default_rng(1)
    plane = np.column_stack([numbers.standard_normal((50, 2)), np.zeros(50)])
    for raw, says in (
        (np.zeros((20, 3)), "all readings are the same"),
        (plane, "no ellipsoid"),
        (np.outer(np.arange(20.0), [1, 2, 3]), "no ellipsoid"),
        (np.zeros((5, 3)), "nine readings"),
        (np.full((20, 3), np.nan), "no number"),
    ):
        with pytest.raises(ValueError, match=says):
            ellipsoid_fit(raw)


# ------------------------------------------------------------------------------------ level


def rest(roll: float, pitch: float, seed: int, count: int = 4000) -> np.ndarray:
    """Specific force of a body with that roll and pitch (ISO 1151: z down), with noise."""
    g = 9.81
    force = np.array(
        [g * math.sin(pitch), -g * math.cos(pitch) * math.sin(roll), -g * math.cos(pitch) * math.cos(roll)]
    )
    return force[:, None] + 0.05 * np.random.default_rng(seed).standard_normal((3, count))


def test_tilt_is_the_angle_it_was_made_from():
    for roll, pitch in ((0.05, -0.02), (-0.1, 0.08), (0.0, 0.0)):
        found = tilt(rest(roll, pitch, 1, 200_000).mean(axis=1))
        assert found == pytest.approx((roll, pitch), abs=2e-4)


def test_the_tables_slope_drops_out():
    """A table that slopes by 1.2 degrees towards the nose, then, after the half turn, towards the tail."""
    trim_roll, trim_pitch, slope = 0.010, -0.006, math.radians(1.2)
    held = 0
    for seed in range(200):
        fit = level_trim(
            rest(trim_roll, trim_pitch - slope, 2 * seed),
            rest(trim_roll, trim_pitch + slope, 2 * seed + 1),
            400.0,
        )
        held += fit.roll.low <= trim_roll <= fit.roll.high
        held += fit.pitch.low <= trim_pitch <= fit.pitch.high
        assert fit.slope == pytest.approx(slope, abs=1e-3)
        assert fit.pitch.value == pytest.approx(trim_pitch, abs=1e-3)
    assert held / 400 >= 0.9


def test_far_off_level_is_refused():
    with pytest.raises(ValueError, match="10 degrees"):
        level_trim(rest(0.5, 0, 1), rest(0.5, 0, 2), 400.0)
