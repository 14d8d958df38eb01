"""The anti-alias filter against its promise and against scipy.signal; interpolation; aliases; clock."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal as reference

from asflown.core.signal.aliasing import alias_range, folded, rotor_alias_risk
from asflown.core.signal.clock import clock_error
from asflown.core.signal.decimate import FLAT_UP_TO, REACH, STOP_DB, decimate, low_pass, outputs
from asflown.core.signal.resample import band_limited, cubic_at, cubic_even


@pytest.mark.parametrize("factor", [2, 3, 4, 5, 8, 10, 16, 64])
def test_flat_below_and_silent_where_it_would_fold(factor):
    f, h = reference.freqz(
        low_pass(factor), worN=1 << 17, fs=2 * factor
    )  # in units of the new Nyquist frequency
    level = 20 * np.log10(np.abs(h) + 1e-30)
    assert np.abs(level[f <= FLAT_UP_TO]).max() < 0.001
    assert level[f >= 2 - FLAT_UP_TO].max() < -STOP_DB


@pytest.mark.parametrize("kind", ["f4", "f8"])
@pytest.mark.parametrize("factor", [1, 2, 3, 4, 7, 16])
@pytest.mark.parametrize("size", [0, 10, 26 * 4 + 1, 1000, 4097, 70_001])
def test_the_same_as_scipys_polyphase_filter(factor, size, kind):
    """scipy.signal.upfirdn, an independent implementation."""
    values = np.random.default_rng(size).standard_normal(size).astype(kind)
    found = decimate(values, factor)
    assert found.size == outputs(size, factor)
    if factor == 1:
        assert np.array_equal(found, values.astype(float))
    elif found.size:
        whole = reference.upfirdn(low_pass(factor), values.astype(float), 1, factor)
        first = 2 * REACH  # the first output whose taps lie wholly on the signal
        assert np.allclose(found, whole[first : first + found.size], atol=5e-6 if kind == "f4" else 1e-12)


def test_strided_columns_too():
    table = np.random.default_rng(0).standard_normal((5000, 4)).astype("f4")
    assert np.allclose(decimate(table[:, 2], 2), decimate(table[:, 2].copy(), 2), atol=1e-6)


def test_cubics_are_exact_for_cubics():
    random = np.random.default_rng(5)
    t = np.cumsum(random.uniform(0.5, 1.5, 50))
    at = np.sort(random.uniform(t[1], t[-2], 200))
    p = np.poly1d([0.01, -0.3, 1.0, 2.0])
    assert np.allclose(cubic_at(t, at)(p(t)), p(at))
    grid = 3.0 + np.arange(50) / 4.0
    inside = np.linspace(grid[1], grid[-2], 77)
    assert np.allclose(cubic_even(3.0, 4.0, 50, inside)(p(grid)), p(inside))


@pytest.mark.parametrize("share", [0.1, 0.5, 0.8])
def test_band_limited_up_to_its_promise(share):
    """A sine at a share of the Nyquist frequency, away from the ends."""
    n, rate = 500, 100.0
    f = share * rate / 2
    t = np.arange(n) / rate
    at = np.linspace(0.5, t[-1] - 0.5, 3001)
    found = band_limited(np.sin(2 * np.pi * f * t + 0.3), 0.0, rate, at)
    assert np.abs(found - np.sin(2 * np.pi * f * at + 0.3)).max() < 2e-3


def test_aliases_of_the_check_values():
    """Check values, section 16: 1100 Hz sampled at 2000 Hz appears at 900 Hz; 1300 at 1000 at 300."""
    assert folded(1100, 2000) == 900
    assert folded(1300, 1000) == 300


@pytest.mark.parametrize(
    "low, high, rate", [(400, 700, 500), (400, 1000, 500), (600, 700, 1000), (990, 1010, 1000), (10, 20, 100)]
)
def test_a_range_folds_to_where_its_members_do(low, high, rate):
    members = folded(np.linspace(low, high, 20_001), rate)
    assert alias_range(low, high, rate) == pytest.approx((members.min(), members.max()), abs=0.05)


def test_rotor_lines():
    assert not rotor_alias_risk(2000, (100, 240)).folded
    risk = rotor_alias_risk(500, (180, 330), orders=(1, 2))
    assert risk.is_risk
    assert "order 2" in risk.statement
    assert not rotor_alias_risk(500, (180, 330), is_filtered=True).is_risk
    assert rotor_alias_risk(500).is_estimated


def test_clock_error_is_recovered_and_its_interval_holds_it():
    held = 0
    for seed in range(40):
        random = np.random.default_rng(seed)
        true = np.arange(600) / 10.0
        own = true * 1.01 + np.abs(random.normal(0, 0.004, 600))  # messages come late, never early
        error = clock_error(own, true).error
        assert error.value == pytest.approx(0.01, abs=2e-4)
        held += error.low <= 0.01 <= error.high
    assert held >= 34  # 95 % of 40 is 38; fewer than 34 by chance once in 500


def test_a_clock_that_cannot_be_judged_is_not_stated():
    assert clock_error().error.reason
    assert "1 %" in clock_error().caveat
    assert clock_error(np.arange(5.0), np.arange(5.0)).error.reason
