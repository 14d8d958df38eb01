"""The family's responses against scipy.signal: filters by freqz, the whole controller by lfilter's own code."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from asflown.core.behaviour.from_log.family import Order, Variant, low_pass, responses, variants

CUTOFFS = st.floats(10.0, 300.0)
LOOPS = st.sampled_from([1000.0, 2000.0, 8000.0])
ORDERS = st.sampled_from([Order.FIRST, Order.SECOND, Order.TWICE])


@given(ORDERS, CUTOFFS, LOOPS)
def test_half_the_power_passes_at_a_cut_off(order, cutoff, loop):
    at = np.array([cutoff])
    for rate in (None, loop):
        answer = low_pass(order, np.asarray(cutoff), at, rate)
        assert abs(answer[0]) ** 2 == pytest.approx(0.5, rel=1e-9)


@given(CUTOFFS, LOOPS)
def test_two_poles_are_scipys_butterworth(cutoff, loop):
    at = np.array([1.0, 30.0, 200.0])
    own = low_pass(Order.SECOND, np.asarray(cutoff), at, loop)
    np.testing.assert_allclose(
        own, signal.freqz(*signal.butter(2, cutoff, fs=loop), at, fs=loop)[1], rtol=1e-9
    )


@given(CUTOFFS)
def test_analogue_forms_are_scipys(cutoff):
    at = np.array([1.0, 30.0, 200.0])
    w = 2 * np.pi * cutoff
    for order, denominator in (
        (Order.FIRST, [1 / w, 1.0]),
        (Order.SECOND, [1 / w**2, np.sqrt(2) / w, 1.0]),
    ):
        wanted = signal.freqs([1.0], denominator, 2 * np.pi * at)[1]
        np.testing.assert_allclose(low_pass(order, np.asarray(cutoff), at, None), wanted, rtol=1e-9)


@settings(max_examples=30)
@given(st.integers(0, len(variants(True)) - 1), st.floats(-3.0, 3.0))
def test_responses_are_linear_in_the_gains(place, times):
    variant = variants(True)[place]
    at = np.array([0.5, 5.0, 50.0])
    numbers = np.array([0.1, 0.3, 0.002, 0.001, np.log(90.0), np.log(60.0), np.log(40.0), 1e-3, 5e-4])
    scaled = numbers.copy()
    scaled[:4] *= times
    for one, other in zip(
        responses(variant, numbers, at, 2000.0), responses(variant, scaled, at, 2000.0), strict=True
    ):
        np.testing.assert_allclose(other, times * one, rtol=1e-9, atol=1e-12)


def test_the_whole_controller_is_that_of_freqz(truth):
    one = truth.Truth(rate=(2, 120.0), derivative=(2, 70.0), command=(2, 30.0))
    at = np.array([0.5, 3.0, 20.0, 90.0, 400.0])
    variant = Variant(Order.SECOND, Order.SECOND, Order.SECOND)
    numbers = np.array([one.kp, one.ki, one.kd, one.kf, np.log(120.0), np.log(70.0), np.log(30.0), 0.0, 0.0])
    for own, wanted in zip(
        responses(variant, numbers, at, one.loop_rate), truth.responses(one, at), strict=True
    ):
        np.testing.assert_allclose(own, wanted, rtol=1e-9)


def test_many_sets_of_numbers_are_answered_at_once():
    variant = Variant(Order.FIRST, Order.TWICE, Order.FIRST)
    at = np.array([1.0, 10.0])
    rows = np.random.default_rng(1).uniform(0.001, 0.1, (5, 9))
    rows[:, 4:7] = np.log(50.0) + rows[:, 4:7]
    whole = responses(variant, rows, at, 1000.0)
    for place, row in enumerate(rows):
        for one, many in zip(responses(variant, row, at, 1000.0), whole, strict=True):
            np.testing.assert_allclose(many[place], one, rtol=1e-12)
