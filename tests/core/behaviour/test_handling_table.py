"""Handling figures against the table of the check values, section 3, and against closed forms.

The table: ADS-33E-PRF section 3.3.2.1 (from memory); digits by root finding, rows 1-3 also by scipy.freqs on two
million points. Angles over commands, rad/s.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.behaviour.handling import (
    exact_angle_response,
    exact_rate_response,
    phase_delay_by_line,
    rate_response,
)

TURN = 2.0 * np.pi


def second_order(wn, z, delay):
    return lambda f: wn**2 / ((s := 1j * TURN * f) ** 2 + 2 * z * wn * s + wn**2) * np.exp(-s * delay)


def rate_type(lag, delay):
    return lambda f: 1.0 / ((s := 1j * TURN * f) * (lag * s + 1.0)) * np.exp(-s * delay)


# plant, bandwidth by phase, f180, bandwidth by gain (rad/s), phase delay with 57.3 (s)
TABLE = {
    "second order, decided by gain": (
        second_order(10, 0.7, 0.05),
        11.5747095,
        17.4626876,
        11.2592906,
        0.0382092,
    ),
    "second order, slow": (second_order(4, 0.5, 0.1), 4.7043464, 7.0151586, 4.9818219, 0.0785480),
    "second order, fast": (second_order(20, 0.7, 0.02), 24.6526088, 38.8168635, 25.9747175, 0.0152504),
    "rate type, 0.1 s": (rate_type(0.1, 0.05), 5.5596843, 13.0654237, 8.2931036, 0.0360102),
    "rate type, 0.05 s": (rate_type(0.05, 0.03), 10.3118357, 23.5021832, 14.6591338, 0.0214399),
    "pure delay": (rate_type(0.0, 0.08), 9.8174770, 19.6349541, 9.8407883, 0.0399971),
}
PRINTED_DEGREES = np.degrees(1.0) / 57.3  # the standard's 57.3 for the degrees of a radian


def figures_of(figures):
    return (figures.bandwidth_phase, figures.f180, figures.bandwidth_gain, figures.phase_delay)


@pytest.mark.parametrize("plant, phase, f180, gain, delay", TABLE.values(), ids=TABLE)
def test_exact_figures_are_those_of_the_table(plant, phase, f180, gain, delay):
    found = exact_angle_response(plant)
    assert [float(v) * TURN for v in figures_of(found)[:3]] == pytest.approx([phase, f180, gain], rel=1e-7)
    # 1e-6 relative in the table's columns; the last column is printed with 7 decimals
    assert float(found.phase_delay) * PRINTED_DEGREES == pytest.approx(delay, rel=1e-6, abs=6e-8)


@pytest.mark.parametrize("plant", [row[0] for row in TABLE.values()], ids=TABLE)
@pytest.mark.parametrize(
    "grid, close",
    [
        (np.geomspace(0.2, 50.0, 400), 1e-7),
        (np.geomspace(0.2, 50.0, 100), 1e-5),
        (np.arange(1, 400) * 0.05, 1e-4),
    ],
    ids=["400 log", "100 log", "0.05 Hz steps"],
)
def test_sampled_figures_are_the_exact_ones(plant, grid, close):
    exact = exact_angle_response(plant)
    sampled = rate_response(grid, 1j * TURN * grid * plant(grid))
    assert figures_of(sampled) == pytest.approx(tuple(map(float, figures_of(exact))), rel=close)


def test_the_lesser_bandwidth_is_by_gain_in_the_first_row_and_by_phase_in_the_next_two():
    rows = [exact_angle_response(row[0]) for row in list(TABLE.values())[:3]]
    assert [bool(row.gain_limited) for row in rows] == [True, False, False]
    assert float(rows[0].bandwidth) == float(rows[0].bandwidth_gain)
    assert float(rows[1].bandwidth) == float(rows[1].bandwidth_phase)
    assert float(rows[0].bandwidth_attitude) == float(rows[0].bandwidth_phase)


@given(delay=st.floats(0.002, 0.1), gain=st.floats(0.1, 10.0))
def test_a_pure_delay_has_its_closed_form(delay, gain):
    """w135 = pi / 4T, w180 = pi / 2T, gain bandwidth w180 / 10^0.3, phase delay T / 2, whatever the gain."""
    found = exact_rate_response(lambda f: gain * np.exp(-1j * TURN * f * delay), low=0.01, high=500.0)
    expected = (1 / (8 * delay), 1 / (4 * delay), 1 / (4 * delay) / 10**0.3, delay / 2)
    assert [float(v) for v in figures_of(found)] == pytest.approx(expected, rel=1e-9)


def test_many_draws_keep_their_shape_and_each_its_own_figures():
    grid = np.geomspace(0.3, 80.0, 300)
    delays = np.array([[0.01, 0.02, 0.03], [0.04, 0.05, 0.06]])
    found = rate_response(grid, np.exp(-1j * TURN * grid * delays[..., None]))
    assert found.f180.shape == (2, 3)
    assert found.f180 == pytest.approx(1 / (4 * delays), rel=1e-6)
    assert found.bandwidth_gain == pytest.approx(1 / (4 * delays) / 10**0.3, rel=1e-6)
    assert found.phase_delay == pytest.approx(delays / 2, rel=1e-6)


def test_what_the_grid_does_not_hold_is_nan_not_a_guess():
    delay = 0.02  # crossings at 6.25 and 12.5 Hz, the phase delay needs 25 Hz

    def figures(low, high):
        grid = np.geomspace(low, high, 200)
        found = rate_response(grid, np.exp(-1j * TURN * grid * delay))
        return [bool(np.isnan(v)) for v in figures_of(found)]

    assert figures(0.5, 30.0) == [False, False, False, False]
    assert figures(0.5, 24.0) == [False, False, False, True]
    assert figures(0.5, 10.0) == [False, True, True, True]
    assert figures(0.5, 5.0) == [True, True, True, True]
    # starts beyond both bandwidths, but before the -90 deg crossing
    assert figures(8.0, 30.0) == [True, False, True, False]


def test_a_row_with_a_hole_has_no_figure_beyond_it_and_leaves_the_others_alone():
    grid = np.geomspace(0.5, 50.0, 200)
    whole = np.exp(-1j * TURN * grid * 0.02)
    holed = whole.copy()
    holed[grid > 9.0] = np.nan
    found = rate_response(grid, np.stack([whole, holed]))
    assert np.isfinite(figures_of(found))[:, 0].all()
    assert found.bandwidth_phase[1] == pytest.approx(6.25, rel=1e-6)
    assert np.isnan([found.f180[1], found.bandwidth_gain[1], found.phase_delay[1]]).all()


def test_the_highest_gain_crossing_below_f180_counts():
    """A dip in gain below the lower crossing of the level must not be taken."""
    grid = np.geomspace(0.5, 50.0, 2000)
    delay = 0.02
    level = 10**0.3 / 12.5
    dip = 1.0 - 0.95 * np.exp(
        -(((np.log(grid) - np.log(2.0)) / 0.1) ** 2)
    )  # |R| / f falls below the level near 2 Hz
    assert (dip / grid).min(where=grid < 3.0, initial=9.0) < level
    found = rate_response(grid, dip * np.exp(-1j * TURN * grid * delay))
    assert float(found.bandwidth_gain) == pytest.approx(12.5 / 10**0.3, rel=1e-6)


def test_phase_turns_are_followed_from_low_frequency():
    """Beyond -270 deg of rate phase the wrapped phase is positive again: the phase delay must not see it."""
    lagging = rate_type(0.3, 0.25)
    exact = exact_angle_response(lagging, low=0.01, high=20.0)
    # by hand: the phase at 2 f180 is -90 - atan(0.3 w) - 0.25 w, unwrapped by its formula
    w = 2 * TURN * float(exact.f180)
    phase = -np.pi / 2 - np.arctan(0.3 * w) - 0.25 * w
    assert float(exact.phase_delay) == pytest.approx(-(phase + np.pi) / w, rel=1e-12)
    grid = np.geomspace(0.05, 20.0, 400)
    sampled = rate_response(grid, 1j * TURN * grid * lagging(grid))
    assert float(sampled.phase_delay) == pytest.approx(float(exact.phase_delay), rel=1e-6)


def test_phase_delay_by_line_is_exact_for_a_delay_and_near_for_a_lag():
    grid = np.geomspace(0.5, 20.0, 200)  # ends below 2 f180 = 25 Hz
    delay = np.exp(-1j * TURN * grid * 0.02)
    assert float(phase_delay_by_line(grid, delay, 12.5)) == pytest.approx(0.01, rel=1e-9)
    assert np.isnan(phase_delay_by_line(grid, delay, 19.99))
    plant = second_order(60.0, 0.7, 0.01)
    figures = exact_angle_response(plant)
    line = float(phase_delay_by_line(grid, 1j * TURN * grid * plant(grid), figures.f180))
    # the phase of a lag flattens beyond f180: the line says more than the two points, by a quarter here
    assert 1.0 < line / float(figures.phase_delay) < 1.25


def test_a_grid_that_is_none_is_refused():
    for grid in ([1.0, 2.0, 3.0], [0.0, 1.0, 2.0, 3.0], [1.0, 2.0, 2.0, 3.0], np.ones((2, 4))):
        with pytest.raises(ValueError, match="frequenc"):
            rate_response(grid, np.ones(np.shape(grid), dtype=complex))
    with pytest.raises(ValueError, match="one a frequency"):
        rate_response([1.0, 2.0, 3.0, 4.0], np.ones(5, dtype=complex))


def test_two_hundred_draws_take_well_under_a_hundredth_of_a_second():
    """Measured 2.5 ms; the bound leaves room for a loaded machine and still fails a loop over draws."""
    grid = np.geomspace(0.5, 100.0, 400)
    plant = 1j * TURN * grid * second_order(60, 0.7, 0.01)(grid)
    draws = plant * np.exp(1e-3 * np.random.default_rng(0).normal(size=(200, 1)))
    times = []
    for _ in range(10):
        start = time.perf_counter()
        rate_response(grid, draws)
        times.append(time.perf_counter() - start)
    assert min(times) < 0.01
