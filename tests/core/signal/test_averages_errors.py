"""Effective averages and random errors against the check values, section 2 (Bendat & Piersol, Welch, Harris)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.signal.averages import (
    coherence_error,
    effective_averages,
    effective_averages_at,
    gain_error,
    no_relation,
    phase_error,
    spectrum_error,
)
from asflown.core.signal.spectrum import Segmenting, cross_spectra, power_spectra
from asflown.core.signal.windows import window_weights


@pytest.mark.parametrize(
    "g2, nd, gain, phase, coherence, auto",
    [
        (0.90, 20, 0.05270463, 3.021153, 0.03333333, 0.223607),
        (0.60, 20, 0.12909944, 7.417556, 0.16329932, 0.223607),
        (0.80, 10, 0.11180340, 6.419284, 0.10000000, 0.316228),
        (0.95, 50, 0.02294157, 1.314571, 0.01025978, 0.141421),
        (0.80, 20, 0.07905694, None, 0.07071068, None),
    ],
)
def test_random_errors_are_those_of_the_table(g2, nd, gain, phase, coherence, auto):
    assert float(gain_error(g2, nd)) == pytest.approx(gain, abs=6e-9)
    assert float(coherence_error(g2, nd)) == pytest.approx(coherence, abs=6e-9)
    if phase is not None:
        assert float(np.degrees(phase_error(g2, nd))) == pytest.approx(phase, abs=6e-7)
        assert float(spectrum_error(nd)) == pytest.approx(auto, abs=6e-7)


def test_coherence_of_no_relation():
    assert no_relation([20, 10]) == pytest.approx([0.145869, 0.283129], abs=6e-7)
    assert float(no_relation(1.0)) == 1.0


def test_errors_of_no_coherence_are_no_numbers_to_use():
    assert np.isinf(gain_error(0.0, 20))
    assert float(phase_error(0.0, 20)) == pytest.approx(np.pi / 2)


@pytest.mark.parametrize(
    "segments, half, three_quarters, rectangle",
    [
        (10, 9.523810, 5.474662, 6.896552),
        (20, 18.997361, 10.663153, 13.559322),
        (39, 36.997297, 20.531720, 26.224138),
        (100, 94.786730, 52.223829, 66.889632),
    ],
)
def test_effective_averages_are_those_of_the_table(segments, half, three_quarters, rectangle):
    hann, box = window_weights("hann", 4096), window_weights("rectangle", 4096)
    assert effective_averages(segments, hann, 2048) == pytest.approx(half, abs=6e-7)
    assert effective_averages(segments, hann, 1024) == pytest.approx(three_quarters, abs=6e-7)
    assert effective_averages(segments, box, 2048) == pytest.approx(rectangle, abs=6e-7)


@given(segments=st.integers(1, 40), hop=st.integers(1, 40))
def test_both_countings_agree_on_even_segments(segments, hop):
    hann = window_weights("hann", 32)
    assert effective_averages_at(np.arange(segments) * hop, hann) == pytest.approx(
        effective_averages(segments, hann, hop)
    )


def test_a_gap_makes_segments_independent_and_a_share_of_zero_leaves_one_out():
    hann = window_weights("hann", 64)
    assert effective_averages_at([0, 32], hann) == pytest.approx(2 / (1 + 1 / 36))
    assert effective_averages_at([0, 1000], hann) == pytest.approx(2.0)
    assert effective_averages_at([0, 32, 64], hann, [1, 0, 1]) == pytest.approx(2.0)
    assert effective_averages_at([0, 1000], hann, [3, 1]) == pytest.approx(16 / 10)


def test_the_spectrum_of_noise_scatters_as_its_effective_averages_say():
    """Own Monte Carlo, seed 3: bins are independent draws; 1400 of them give the scatter to 2 %."""
    rng = np.random.default_rng(3)
    cut = Segmenting(128, overlap=0.75, detrend=False)
    ratios, averages = [], 0.0
    for _ in range(60):
        found = power_spectra(rng.normal(size=(1, 2048)), 1.0, cut)
        averages = found.averages
        ratios.append(found.power[0, 4:-4:4] / 2.0)  # one-sided density of unit variance at 1 Hz
    scatter = np.std(np.concatenate(ratios))
    assert np.mean(ratios) == pytest.approx(1.0, rel=0.05)
    assert scatter == pytest.approx(float(spectrum_error(averages)), rel=0.08)


def test_gain_and_phase_scatter_as_the_formulas_say():
    """Own Monte Carlo, seed 1, coherence 0.8 and 20 averages: the table's own gave 0.0812 and 0.0803 rad (5 %)."""
    rng = np.random.default_rng(1)
    cut = Segmenting(32, overlap=0.0, window="rectangle", detrend=False)
    gains, phases, coherences = [], [], []
    for _ in range(400):
        x = rng.normal(size=640)
        y = x + 0.5 * rng.normal(size=640)  # coherence 1 / (1 + 0.25)
        found = cross_spectra([x], [y], 1.0, cut)
        response = found.response[0, 0, 1:-1]
        gains.append(np.abs(response))
        phases.append(np.angle(response))
        coherences.append(found.coherence[0, 0, 1:-1])
    assert np.std(gains) == pytest.approx(0.07905694, rel=0.05)
    assert np.std(phases) == pytest.approx(0.07905694, rel=0.05)
    assert np.std(coherences) / 0.8 == pytest.approx(0.07071068, rel=0.05)
    assert np.mean(coherences) == pytest.approx(0.8033, abs=0.002)
