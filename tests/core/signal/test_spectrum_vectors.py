"""Averaged spectra against the check values, sections 1.2 and 1.3, and scipy.signal."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.signal.spectrum import Segmenting, cross_spectra, power_spectra, segment_starts
from asflown.errors import InputError

K = np.arange(64)
X = ((7 * K) % 11 - 5).astype(float)
Y = ((5 * K + 3) % 13 - 6).astype(float)
RATE = 64.0
PLAIN = Segmenting(16, detrend=False)

# scipy 1.17.1: Hann, segments of 16, overlap 8, no detrending, density
PXX = [0.005190875736, 0.112094781129, 0.124547721567, 0.105676025616, 0.255728626988, 0.596719010960]
PXX += [1.015715569308, 0.234504492422, 0.048993671899]
PXY = [-0.001347515365, -0.010408275857 + 0.020764173233j, 0.014481374589 + 0.027916877799j]
PXY += [0.035846651893 + 0.012484778702j, -0.038098784669 + 0.020111634146j, 0.043389806576 + 0.012201331964j]
PXY += [0.167623364372 - 0.061183500892j, -0.015693984320 + 0.065056790380j, -0.029573650510]
COHERENCE = [0.031816781744, 0.047874514565, 0.039524642360, 0.044818692464, 0.018929092162, 0.009327802162]
COHERENCE += [0.021662948670, 0.031228648342, 0.218110187116]


def test_the_deterministic_vector():
    found = cross_spectra([X], [Y], RATE, PLAIN)
    assert found.segments == 7
    assert found.frequencies == pytest.approx(np.arange(9) * 4.0)
    assert found.input_power[0] == pytest.approx(np.array(PXX), abs=1e-9)
    assert np.max(np.abs(found.cross[0, 0] - PXY)) < 1e-9
    assert found.coherence[0, 0] == pytest.approx(np.array(COHERENCE), abs=1e-9)


def test_the_deterministic_vector_with_means_taken_off():
    power = power_spectra([X], RATE, Segmenting(16)).power[0]
    assert power[:2] == pytest.approx([0.027801085746, 0.143917489079], abs=1e-9)
    assert power[2:] == pytest.approx(PXX[2:], abs=1e-9)


def test_both_estimates_of_the_response_and_the_coherence_hang_together():
    found = cross_spectra([X], [Y], RATE, PLAIN)
    assert found.response[0, 0] == pytest.approx(found.cross[0, 0] / found.input_power[0])
    ratio = found.response / found.response_of_noisy_input
    assert np.max(np.abs(ratio - found.coherence)) < 1e-12


def test_coherence_from_one_segment_is_refused():
    found = cross_spectra([X[:16]], [Y[:16]], RATE, PLAIN)
    assert found.segments == 1
    with pytest.raises(InputError, match="one segment is 1 whatever the signals"):
        _ = found.coherence


@pytest.mark.parametrize(
    "window, scaling, peak",
    [("rectangle", "density", 2.0), ("hann", "density", 4 / 3), ("hann", "spectrum", 2.0)],
)
def test_a_line_on_a_bin_has_its_mean_square(window, scaling, peak):
    """2 sin(2 pi 50 t) at 1000 Hz: A²/2 = 2, by scipy.signal.welch too."""
    t = np.arange(1000) / 1000.0
    cut = Segmenting(1000, window=window, detrend=False)
    found = power_spectra([2 * np.sin(2 * np.pi * 50 * t)], 1000.0, cut, scaling=scaling)
    assert found.frequencies[int(np.argmax(found.power[0]))] == 50.0
    assert found.power[0].max() == pytest.approx(peak, rel=1e-12)
    if scaling == "density":
        assert np.sum(found.power[0]) == pytest.approx(2.0, rel=1e-12)  # bins of 1 Hz


@given(values=st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=40))
def test_the_whole_spectrum_sums_to_the_mean_square(values):
    """Parseval: one segment, no window; odd and even lengths."""
    x = np.array(values)
    found = power_spectra([x], 7.0, Segmenting(x.size, window="rectangle", detrend=False))
    total = np.sum(found.power[0]) * 7.0 / x.size
    assert total == pytest.approx(np.mean(x * x), rel=1e-9, abs=1e-12)


def test_parseval_by_hand():
    """x = [1, 2, 3, 4]: X = [10, -2+2j, -2, -2-2j], sum x² = 30 = sum |X|² / 4."""
    found = power_spectra([np.arange(1.0, 5.0)], 1.0, Segmenting(4, window="rectangle", detrend=False))
    assert found.power[0] == pytest.approx([100 / 4, 2 * 8 / 4, 4 / 4], rel=1e-12)
    assert np.sum(found.power[0]) == pytest.approx(30.0, rel=1e-12)


@pytest.mark.parametrize("dtype, close", [(np.float64, 1e-12), (np.float32, 2e-5)])
@pytest.mark.parametrize("length, overlap", [(256, 0.5), (255, 0.75), (300, 0.0)])
def test_many_channels_are_those_of_scipy(dtype, close, length, overlap):
    values = np.random.default_rng(2).normal(size=(5, 30_011)).astype(dtype)
    cut = Segmenting(length, overlap)
    shared = {"fs": 500.0, "nperseg": length, "noverlap": length - cut.hop}
    power = power_spectra(values, 500.0, cut)
    _, expected = scipy.signal.welch(values.astype(float), **shared)
    assert np.max(np.abs(power.power - expected)) < close * expected.max()
    found = cross_spectra(values[:2], values[2:], 500.0, cut)
    for i in range(2):
        for j in range(3):
            _, cross = scipy.signal.csd(values[i].astype(float), values[2 + j].astype(float), **shared)
            assert np.max(np.abs(found.cross[j, i] - cross)) < close * expected.max()
            _, coherence = scipy.signal.coherence(
                values[i].astype(float), values[2 + j].astype(float), **shared
            )
            assert np.max(np.abs(found.coherence[j, i] - coherence)) < 10 * close


def test_windows_over_gaps_are_left_out():
    cut = Segmenting(64)
    starts = segment_starts([(0, 200), (230, 280), (300, 500)], cut)
    assert starts.tolist() == [0, 32, 64, 96, 128, 300, 332, 364, 396, 428]
    clean = np.random.default_rng(5).normal(size=500)
    broken = clean.copy()
    broken[200:300] = np.nan
    found = power_spectra([broken], 100.0, cut, starts=starts)
    parts = [scipy.signal.welch(clean[a:b], 100.0, nperseg=64)[1] for a, b in ((0, 200), (300, 500))]
    assert found.power[0] == pytest.approx((parts[0] + parts[1]) / 2, rel=1e-12)
    assert found.segments == 10
    one_run = 5 / (1 + 2 * 0.8 / 36)
    assert found.averages == pytest.approx(2 * one_run)


def test_shares_weigh_the_segments():
    cut = Segmenting(32, overlap=0.0)
    x = np.random.default_rng(6).normal(size=(2, 96))
    one, two, three = (power_spectra(x[:, k : k + 32], 1.0, cut).power for k in (0, 32, 64))
    found = power_spectra(x, 1.0, cut, shares=[1.0, 0.0, 3.0])
    assert found.power == pytest.approx((one + 3 * three) / 4, rel=1e-12)
    assert found.averages == pytest.approx(1.6)
    even = power_spectra(x, 1.0, cut, shares=[2.0, 2.0, 2.0])
    assert even.power == pytest.approx((one + two + three) / 3, rel=1e-12)
    pair = cross_spectra(x[:1], x[1:], 1.0, cut, shares=[1.0, 0.0, 3.0])
    parts = [cross_spectra(x[:1, k : k + 32], x[1:, k : k + 32], 1.0, cut).cross for k in (0, 64)]
    assert np.max(np.abs(pair.cross - (parts[0] + 3 * parts[1]) / 4)) < 1e-12
    assert pair.input_power == pytest.approx(found.power[:1])


def test_too_short_a_log_is_refused_with_what_to_do():
    with pytest.raises(InputError, match="no stretch of 128 unbroken samples, got 64") as told:
        power_spectra([X], RATE, Segmenting(128))
    assert "log for longer" in str(told.value)
    with pytest.raises(InputError, match="no stretch"):
        power_spectra([X], RATE, PLAIN, starts=[])
    with pytest.raises(ValueError, match="outside"):
        power_spectra([X], RATE, PLAIN, starts=[60])
    with pytest.raises(ValueError, match="one length"):
        power_spectra([X, X[:32]], RATE, PLAIN)
    with pytest.raises(ValueError, match="overlap below 1"):
        Segmenting(16, overlap=1.0)


def test_a_dead_channel_has_no_response_and_no_coherence():
    found = cross_spectra([np.zeros(64)], [Y], RATE, PLAIN)
    assert np.isnan(found.coherence).all()
    assert np.isnan(found.response).all()
