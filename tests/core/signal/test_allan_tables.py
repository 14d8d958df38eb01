"""Allan deviations against the check values, section 7 (NIST SP 1065 tables 29-32), and AllanTools 2024.6."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.signal.allan import (
    Deviation,
    Noise,
    allan_deviation,
    degrees_of_freedom,
    deviation_interval,
    octave_factors,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import allantools

# NBS Monograph 140, annex 8.E: nine rates at 1 Hz
NINE = np.array([892.0, 809, 823, 798, 671, 644, 883, 903, 677])
NINE_TABLE = {
    Deviation.ALLAN: (91.22944974, 115.8082107),
    Deviation.OVERLAPPING: (91.22944974, 85.95286984),
    Deviation.MODIFIED: (91.22944974, 74.78849343),
    Deviation.TIME: (52.67134737, 86.35831363),
    Deviation.HADAMARD: (70.80607319, 116.7979916),
    Deviation.OVERLAPPING_HADAMARD: (70.80607319, 85.61487166),
    Deviation.TOTAL: (91.22944974, 93.90379053),
}
THOUSAND_TABLE = {
    Deviation.ALLAN: (2.922319e-01, 9.965736e-02, 3.897804e-02),
    Deviation.OVERLAPPING: (2.922319e-01, 9.159953e-02, 3.241343e-02),
    Deviation.MODIFIED: (2.922319e-01, 6.172376e-02, 2.170921e-02),
    Deviation.TIME: (1.687202e-01, 3.563623e-01, 1.253382e00),
    Deviation.HADAMARD: (2.943883e-01, 1.052754e-01, 3.910861e-02),
    Deviation.OVERLAPPING_HADAMARD: (2.943883e-01, 9.581083e-02, 3.237638e-02),
    Deviation.TOTAL: (2.922319e-01, 9.134743e-02, 3.406530e-02),
}


def thousand():
    """n' = 16807 n mod 2147483647 from 1234567890 (seed, factor and modulus at second hand)."""
    numbers = [1234567890]
    for _ in range(999):
        numbers.append(16807 * numbers[-1] % 2147483647)
    return np.array(numbers) / 2147483647


def test_the_thousand_are_the_published_ones():
    y = thousand()
    assert y[:3] == pytest.approx([0.57489047, 0.18418297, 0.56317577], abs=5e-9)
    statistics = (y.mean(), y.min(), y.max(), np.median(y), y.std(ddof=1))
    assert statistics == pytest.approx(
        (4.897745e-01, 1.371760e-03, 9.957453e-01, 4.798849e-01, 2.884664e-01), rel=2e-7
    )


@pytest.mark.parametrize("kind, row", NINE_TABLE.items())
def test_nine_rates(kind, row):
    assert allan_deviation(NINE, 1.0, kind, [1, 2]).deviation == pytest.approx(row, rel=1e-9)


@pytest.mark.parametrize("kind, row", THOUSAND_TABLE.items())
def test_a_thousand_rates(kind, row):
    """As printed, to half a unit of the last of seven digits."""
    assert allan_deviation(thousand(), 1.0, kind, [1, 10, 100]).deviation == pytest.approx(row, rel=5e-7)


def test_counts_of_differences():
    y = thousand()
    assert allan_deviation(y, 1.0, "allan", [1, 10, 100]).counts.tolist() == [999, 99, 9]
    assert allan_deviation(y, 1.0, factors=[1, 10, 100]).counts.tolist() == [999, 981, 801]


@pytest.mark.parametrize(
    "kind, theirs",
    [
        (Deviation.ALLAN, allantools.adev),
        (Deviation.OVERLAPPING, allantools.oadev),
        (Deviation.MODIFIED, allantools.mdev),
        (Deviation.TIME, allantools.tdev),
        (Deviation.HADAMARD, allantools.hdev),
        (Deviation.OVERLAPPING_HADAMARD, allantools.ohdev),
        (Deviation.TOTAL, allantools.totdev),
    ],
)
def test_every_kind_is_that_of_allantools(kind, theirs):
    rate = 250.0
    y = np.random.default_rng(4).normal(size=3001) + 16.0  # far from zero: no digits may be lost
    factors = [1, 3, 17, 60, 250]
    ours = allan_deviation(y, rate, kind, factors)
    taus, deviation, *_ = theirs(y, rate=rate, data_type="freq", taus=np.array(factors) / rate)
    assert ours.taus == pytest.approx(taus)
    assert ours.deviation == pytest.approx(deviation, rel=1e-8)


def test_slope_of_white_noise():
    """Expected sd / sqrt(rate) = 0.00707107; the three digits by AllanTools."""
    y = np.random.default_rng(0).normal(scale=0.1, size=400_000)
    curve = allan_deviation(y, 200.0, factors=[20, 200, 2000])
    assert curve.taus == pytest.approx([0.1, 1.0, 10.0])
    scaled = curve.deviation * np.sqrt(curve.taus)
    assert scaled == pytest.approx([0.00705501, 0.00705628, 0.00705320], abs=5e-9)
    assert scaled == pytest.approx(0.00707107, rel=0.01)
    thin = allan_deviation(y, 200.0, factors=[20, 200, 2000], thin=True)
    assert thin.deviation == pytest.approx(curve.deviation, rel=0.01)
    assert thin.counts[2] < curve.counts[2] / 100


@pytest.mark.parametrize(
    "noise, alpha", [(Noise.WHITE_ANGLE, 2), (Noise.WHITE, 0), (Noise.FLICKER, -1), (Noise.WALK, -2)]
)
def test_degrees_of_freedom_are_those_of_allantools(noise, alpha):
    """From two samples up for flicker: at one, AllanTools lacks the square of (N - 2) and says less than one."""
    factors = np.array([2, 5, 40, 200])
    expected = [allantools.edf_simple(1000, int(m), alpha) for m in factors]
    assert degrees_of_freedom(999, factors, noise) == pytest.approx(np.maximum(expected, 1.0))


def test_degrees_of_freedom_at_one_sample_of_flicker():
    """2 (N - 2)² / (2.3 N - 4.9), SP 1065 table 5 (from memory)."""
    assert float(degrees_of_freedom(999, [1], "flicker rate")[0]) == pytest.approx(2 * 998**2 / (2300 - 4.9))


def test_interval_of_a_deviation_is_the_chi_square_one():
    """Ten degrees of freedom: 20.483 and 3.247 are the 2.5 % points of any table of chi-square."""
    low, high = deviation_interval(2.0, 10.0)
    assert float(low) == pytest.approx(2 * np.sqrt(10 / 20.483), rel=1e-4)
    assert float(high) == pytest.approx(2 * np.sqrt(10 / 3.247), rel=1e-4)


@given(offset=st.floats(-1e3, 1e3), scale=st.floats(0.1, 100.0), rate=st.floats(1.0, 4000.0))
def test_an_offset_has_no_part_and_a_scale_scales(offset, scale, rate):
    y = thousand()[:200]
    plain = allan_deviation(y, 1.0)
    moved = allan_deviation(scale * y + offset, rate)
    assert moved.deviation == pytest.approx(scale * plain.deviation, rel=1e-6)
    assert moved.taus == pytest.approx(plain.taus / rate)


def test_factors_are_even_in_their_logarithm_and_leave_blocks():
    factors = octave_factors(400_000)
    assert factors[0] == 1
    assert factors[-1] == 100_000
    assert np.all(np.diff(factors) > 0)
    assert np.max(np.diff(np.log10(factors[factors > 20]))) < 1 / 7


def test_too_long_a_time_is_left_out_and_too_few_values_are_refused():
    assert allan_deviation(NINE, 1.0, factors=[1, 4, 5, 100]).factors.tolist() == [1, 4]
    for wrong in ([1.0, 2.0], np.full(20, np.nan), np.ones((3, 20))):
        with pytest.raises(ValueError, match="eight finite values"):
            allan_deviation(wrong, 1.0)
