"""Filters against the check values, section 5 (Audio EQ Cookbook, scipy.signal, closed forms)."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.signal.filters import (
    Block,
    cascade_factor,
    cascade_response,
    frequency_response,
    group_delay,
    low_pass,
    notch,
    one_pole,
    one_pole_factor,
    one_pole_half_power,
    one_pole_rest_delay,
    prewarped,
    unwarped,
)

LOW_PASS = {
    (8000, 100): (
        0.001460316305528,
        0.002920632611055,
        0.001460316305528,
        -1.889033079394525,
        0.894874344616636,
    ),
    (1000, 90): (
        0.056448462260736,
        0.112896924521473,
        0.056448462260736,
        -1.224651581013095,
        0.450445430056041,
    ),
    (48000, 1000): (
        0.003916126660547,
        0.007832253321095,
        0.003916126660547,
        -1.815341082704568,
        0.831005589346758,
    ),
}
NOTCH = {
    (8000, 200, 3.5): (
        0.978140725552029,
        -1.932196380178016,
        0.978140725552029,
        -1.932196380178016,
        0.956281451104059,
    ),
    (1000, 120, 5): (
        0.935931106939587,
        -1.364528828773506,
        0.935931106939587,
        -1.364528828773506,
        0.871862213879174,
    ),
}


def coefficients(block):
    assert block.a[0] == 1.0
    return (*block.b, *block.a[1:])


@pytest.mark.parametrize("setup, row", LOW_PASS.items())
def test_low_pass_is_that_of_the_table_and_of_butterworth(setup, row):
    rate, cutoff = setup
    block = low_pass(cutoff, rate)
    assert coefficients(block) == pytest.approx(row, abs=1e-14)
    b, a = scipy.signal.butter(2, cutoff, fs=rate)
    assert coefficients(block) == pytest.approx((*b, *a[1:]), abs=1e-14)
    gain = abs(cascade_response([block], [cutoff], rate)[0])
    assert 20 * np.log10(gain) == pytest.approx(-3.0102999566, abs=1e-9)


@pytest.mark.parametrize("setup, row", NOTCH.items())
def test_notch_is_that_of_the_table(setup, row):
    rate, centre, q = setup
    block = notch(centre, rate, q)
    assert coefficients(block) == pytest.approx(row, abs=1e-14)
    assert abs(cascade_response([block], [centre], rate)[0]) < 2e-14


def test_notch_is_not_the_one_of_scipy():
    """scipy.signal.iirnotch takes tan(w0 / 2Q): b0 0.929764 at 1000 Hz, 120 Hz, Q 5, where the cookbook has 0.935931."""
    b, _ = scipy.signal.iirnotch(120, 5, fs=1000)
    assert b[0] == pytest.approx(0.929764280193787, abs=1e-12)
    assert notch(120, 1000, 5).b[0] / b[0] == pytest.approx(1.00663, abs=1e-4)


@pytest.mark.parametrize(
    "block, rate, row",
    [
        (low_pass(100, 8000, 0.5**0.5), 8000, (18.17532339, 18.68755518, 21.17984183)),
        (notch(200, 8000, 3.5), 8000, (1.82844127, 1.86888387, 2.18095752)),
        (low_pass(90, 1000, 0.5**0.5), 1000, (2.46445010, 2.55248772, 2.97376269)),
        (notch(120, 1000, 5), 1000, (0.25758394, 0.27332670, 0.42185061)),
    ],
)
def test_group_delay_is_that_of_the_table_and_of_scipy(block, rate, row):
    assert group_delay([block], [10, 20, 50], rate) == pytest.approx(row, abs=1e-7)
    f = np.linspace(1, 0.45 * rate, 50)
    _, expected = scipy.signal.group_delay((block.b, block.a), w=f, fs=rate)
    assert group_delay([block], f, rate) == pytest.approx(expected, abs=1e-6)


def test_group_delay_at_rest_is_near_that_of_the_analogue_filter():
    """17.99706937 samples; analogue sqrt 2 / wn is 18.00632632."""
    delay = float(group_delay([low_pass(100, 8000)], [0.0], 8000)[0])
    assert delay == pytest.approx(17.99706937, abs=1e-8)
    assert delay == pytest.approx(np.sqrt(2) / (2 * np.pi * 100) * 8000, rel=1e-3)


@pytest.mark.parametrize(
    "rule, factor, decibel, half_power, rest",
    [
        ("backward", 0.072820507087338, -3.176425160, 96.313121245, 12.732395447),
        ("impulse", 0.075534749623744, -3.008068075, 100.051443871, 12.238939759),
        ("exact", 0.075497454406597, -3.010299957, 100.0, 12.245479703),
    ],
)
def test_one_pole_rules_are_those_of_the_table(rule, factor, decibel, half_power, rest):
    a = one_pole_factor(100, 8000, rule)
    assert a == pytest.approx(factor, abs=1e-14)
    gain = abs(cascade_response([one_pole(100, 8000, rule)], [100.0], 8000)[0])
    assert 20 * np.log10(gain) == pytest.approx(decibel, abs=1e-9)
    assert one_pole_half_power(a, 8000) == pytest.approx(half_power, abs=1e-8)
    assert one_pole_rest_delay(a) == pytest.approx(rest, abs=1e-9)
    assert float(group_delay([one_pole(100, 8000, rule)], [0.0], 8000)[0]) == pytest.approx(rest, abs=1e-9)


def test_a_one_pole_that_hardly_filters_never_falls_to_half_power():
    assert np.isnan(one_pole_half_power(0.9, 1000.0))
    assert np.isnan(one_pole_half_power(1.0, 1000.0))


@pytest.mark.parametrize("stages, factor", [(1, 1.0), (2, 1.553773974), (3, 1.961459177), (4, 2.298959223)])
def test_cascade_factor_keeps_the_cut_off(stages, factor):
    assert cascade_factor(stages) == pytest.approx(factor, abs=1e-9)
    gain = frequency_response(
        "one pole", [1.0], 1e5, cutoff_hz=cascade_factor(stages), rule="exact", stages=stages
    )
    assert 20 * np.log10(abs(gain[0])) == pytest.approx(-3.0103, abs=1e-3)


def test_prewarping():
    assert prewarped(1000, 8000) == pytest.approx(6627.416997969521, rel=1e-14)
    assert prewarped(1000, 8000) / (2 * np.pi) == pytest.approx(1054.786175158, rel=1e-12)
    assert unwarped(1000, 8000) == pytest.approx(952.884022300, rel=1e-12)


@given(cutoff=st.floats(20, 900), q=st.floats(0.3, 10), centre=st.floats(20, 900))
def test_response_of_a_cascade_is_that_of_scipy(cutoff, q, centre):
    blocks = [low_pass(cutoff, 2000, q), notch(centre, 2000, q), one_pole(cutoff, 2000)]
    f = np.linspace(1, 999, 40)
    expected = np.ones(40, dtype=complex)
    for block in blocks:
        expected *= scipy.signal.freqz(block.b, block.a, worN=f, fs=2000)[1]
    assert np.max(np.abs(cascade_response(blocks, f, 2000) - expected)) < 1e-9


@given(samples=st.floats(0, 30))
def test_a_delay_delays(samples):
    f = np.linspace(0, 400, 20)
    found = frequency_response("delay", f, 1000.0, seconds=samples / 1000)
    assert np.max(np.abs(found - np.exp(-2j * np.pi * f * samples / 1000))) < 1e-9
    assert group_delay([Block((1.0,), delay=samples)], f, 1000.0) == pytest.approx(samples)


def test_integrator_and_derivative_against_running_them():
    f, rate = np.array([3.0, 40.0, 200.0]), 1000.0
    rules = {
        "backward": ([1 / rate], [1, -1]),
        "forward": ([0, 1 / rate], [1, -1]),
        "trapezoid": ([0.5 / rate, 0.5 / rate], [1, -1]),
    }
    for rule, (b, a) in rules.items():
        expected = scipy.signal.freqz(b, a, worN=f, fs=rate)[1]
        assert np.max(np.abs(frequency_response("integrator", f, rate, rule=rule) - expected)) < 1e-12
    # slow signals: 1 / s and s
    slow = 2j * np.pi * 0.01
    assert frequency_response("integrator", [0.01], rate)[0] == pytest.approx(1 / slow, rel=1e-4)
    assert frequency_response("derivative", [0.01], rate)[0] == pytest.approx(slow, rel=1e-4)
    product = frequency_response("integrator", f, rate) * frequency_response("derivative", f, rate)
    assert np.max(np.abs(product - 1.0)) < 1e-12


def test_a_hold_is_half_a_sample_late():
    f = np.array([0.0, 10.0, 100.0])
    found = frequency_response("hold", f, 1000.0)
    assert np.angle(found) == pytest.approx(-np.pi * f / 1000.0)
    s = 2j * np.pi * 100.0
    assert found[2] == pytest.approx((1 - np.exp(-s / 1000)) / (s / 1000))
    assert found[0] == 1.0


def test_what_is_no_filter_is_refused():
    with pytest.raises(ValueError, match="no block is called 'comb'; there are one pole, low-pass"):
        frequency_response("comb", [1.0], 1000.0)
    for wrong in (0.0, 500.0, 700.0):
        with pytest.raises(ValueError, match="below 500 Hz"):
            low_pass(wrong, 1000.0)
    with pytest.raises(ValueError, match="Q above 0"):
        notch(100.0, 1000.0, 0.0)
