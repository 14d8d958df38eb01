"""Band sums against a direct transform, scipy.signal.csd, Parseval's theorem and a filter that is known exactly."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.behaviour.identify.bands import HIGHEST, LOWEST, TAPER, Stretch, banded, edges, taper

RATE = 500.0


def _stretch(seed: int, samples: int, slopes: int = 0) -> Stretch:
    random = np.random.default_rng(seed)
    command, drive, response = random.standard_normal((3, samples))
    return Stretch(RATE, command, drive, response, 0.1 * random.standard_normal((slopes, samples)))


@given(samples=st.integers(20, 9000), rate=st.floats(100.0, 2000.0))
def test_the_taper_is_flat_with_even_ends_and_its_slope_is_its_derivative(samples: int, rate: float) -> None:
    window, slope = taper(samples, rate)
    assert window.min() >= 0.0
    assert window.max() <= 1.0
    np.testing.assert_allclose(window, window[::-1])
    np.testing.assert_allclose(slope, -slope[::-1])
    ramp = int(np.count_nonzero(slope) / 2)
    assert ramp / rate <= TAPER + 2 / rate
    assert ramp <= samples // 8 + 2
    # the slope sums up to the whole rise from 0 to 1: midpoint rule over half a cosine
    assert slope[:ramp].sum() / rate == pytest.approx(1.0, abs=0.15 if ramp < 12 else 0.01)


def test_the_tapers_slope_against_numerical_differences() -> None:
    window, slope = taper(10_000, RATE)
    np.testing.assert_allclose(np.gradient(window, 1 / RATE), slope, atol=0.02)


def test_edges_are_an_even_share_of_an_octave_or_one_bin() -> None:
    found = edges(RATE, 60.0)
    assert found[0] == LOWEST
    assert HIGHEST <= found[-1] < 1.04 * HIGHEST
    assert np.all(np.diff(found) >= 1 / 60.0 - 1e-12)
    assert np.all(np.diff(found) <= np.maximum(found[:-1] * (2 ** (1 / 24) - 1), 1 / 60.0) + 1e-12)
    # a slow log: nothing above what it can show
    assert edges(200.0, 60.0)[-1] < 0.45 * 200.0


def test_band_sums_are_those_of_a_direct_transform() -> None:
    """Independent route: the discrete Fourier transform written out as a matrix product, in double precision."""
    one = _stretch(1, 2000, slopes=1)
    limits = np.array([2.0, 4.0, 9.0, 20.0])
    found = banded([one], limits)
    window, slope = taper(2000, RATE)
    size = np.sqrt(np.sum(window**2))
    frequencies = np.arange(1001) * RATE / 2000  # 2000 is a good length: no padding
    matrix = np.exp(-2j * np.pi * np.outer(frequencies, np.arange(2000)) / RATE)
    command, drive, response = (row - row.mean() for row in (one.command, one.drive, one.response))
    r = matrix @ (command * window / size)
    r1 = matrix @ (command * one.slopes[0] * window / size)
    u, u1 = matrix @ (drive * window / size), matrix @ (drive * one.slopes[0] * window / size)
    y, w = matrix @ (response * window / size), matrix @ (drive * slope / size)
    for band, (low, high) in enumerate(pairwise(limits)):
        inside = (frequencies >= low) & (frequencies < high)
        for got, a, b in (
            (found.command_drive[band, 0, 0], r, u),
            (found.command_drive[band, 1, 0], r1, u),
            (found.command_drive[band, 0, 1], r, u1),
            (found.command_ends[band, 0], r, w),
            (found.command_response[band, 1], r1, y),
            (found.command_command[band, 0, 1], r, r1),
            (found.drive_drive[band, 1, 1], u1, u1),
            (found.drive_response[band, 1], u1, y),
            (found.response_response[band], y, y),
        ):
            wanted = np.sum(np.conj(a[inside]) * b[inside])
            scale = np.sqrt(np.sum(np.abs(a[inside]) ** 2) * np.sum(np.abs(b[inside]) ** 2))
            assert abs(got - wanted) < 2e-6 * scale  # single precision in the transform
        power = np.abs(r[inside]) ** 2
        assert found.frequencies[band] == pytest.approx(np.sum(power * frequencies[inside]) / power.sum())


def test_bands_from_nought_to_the_top_hold_the_whole_power() -> None:
    """Parseval: twice the sums over all bins between 0 and half the rate are the tapered signal's power."""
    one = _stretch(2, 4000)
    found = banded([one], np.array([1e-3, 50.0, 120.0, 249.99]))
    window, _ = taper(4000, RATE)
    response = one.response - one.response.mean()
    wanted = np.sum((window * response) ** 2) / np.sum(window**2)
    assert 2 * found.response_response.sum() / 4000 == pytest.approx(wanted, rel=2e-3)


def test_densities_agree_with_scipy_csd() -> None:
    """scipy.signal.csd (Welch, Hann) on 200 s of coloured noise: within its random error of 3 % (n_d about 1500)."""
    import scipy.signal as ss

    random = np.random.default_rng(3)
    command = ss.lfilter([0.05], [1, -0.95], random.standard_normal(100_000))
    drive = ss.lfilter([0.3], [1, -0.7], command) + 0.05 * random.standard_normal(100_000)
    found = banded(
        [Stretch(RATE, command, drive, drive, np.zeros((0, 100_000)))], np.array([3.0, 6.0, 12.0, 24.0])
    )
    frequencies, cross = ss.csd(command, drive, RATE, nperseg=2000)
    for band, (low, high) in enumerate(((3, 6), (6, 12), (12, 24))):
        inside = (frequencies >= low) & (frequencies < high)
        # a bin's sum is the two-sided density times the rate
        mine = found.command_drive[band, 0, 0] / found.bins[band] * 2 / RATE
        theirs = cross[inside].mean()
        assert abs(mine / theirs - 1) < 0.08


def test_several_stretches_add_up_and_bins_count_what_is_independent() -> None:
    one, other = _stretch(4, 5000), _stretch(5, 8000)
    limits = np.array([5.0, 10.0, 20.0])
    together, first, second = (banded(rows, limits) for rows in ([one, other], [one], [other]))
    np.testing.assert_allclose(
        together.command_response, first.command_response + second.command_response, rtol=1e-6
    )
    np.testing.assert_allclose(together.bins, first.bins + second.bins)
    assert together.seconds == pytest.approx(26.0)
    # bins are band width times length, less what the tapered ends cost
    assert 0.85 * 16.0 * 10.0 < second.bins[1] <= 16.0 * 10.0 * 1.02
    # white noise of variance 1 has 1 in every bin
    np.testing.assert_allclose(together.response_response / together.bins, 1.0, atol=0.35)


def test_a_long_stretch_is_taken_in_pieces_without_loss() -> None:
    one = _stretch(6, int(400 * RATE))
    found = banded([one], np.array([5.0, 50.0]))
    assert found.seconds == pytest.approx(400.0)
    assert found.bins[0] == pytest.approx(45.0 * 400.0, rel=0.03)
    assert found.response_response[0] / found.bins[0] == pytest.approx(1.0, abs=0.03)


def test_only_the_frequencies_kept_count_for_the_command() -> None:
    one = _stretch(7, 5000)
    limits = np.array([5.0, 10.0, 20.0])
    all_of_it = banded([one], limits)
    found = banded([one], limits, keep=lambda f: (f > 6.0) & (f < 7.0))
    # a band without any of the command is left out
    assert all_of_it.frequencies.size == 2
    assert found.frequencies.size == 1
    assert 6.0 < found.frequencies[0] < 7.0
    assert 0 < found.command_command[0, 0, 0].real < all_of_it.command_command[0, 0, 0].real
    np.testing.assert_allclose(found.response_response[0], all_of_it.response_response[0])


def test_the_stick_takes_the_commands_place() -> None:
    one = _stretch(8, 5000)
    stick = np.random.default_rng(9).standard_normal(5000)
    limits = np.array([5.0, 10.0, 20.0])
    with_stick = banded([Stretch(RATE, one.command, one.drive, one.response, one.slopes, stick)], limits)
    as_command = banded([Stretch(RATE, stick, one.drive, one.response, one.slopes)], limits)
    np.testing.assert_allclose(with_stick.command_response, as_command.command_response)


def test_the_end_correction_lowers_the_error_of_a_known_filter() -> None:
    """A slow one-pole filter on noise, 3 s long: the response read with the ends is nearer the filter's own.

    Truth by the filter's formula; the filter itself is run by scipy.signal.lfilter. The derivative of the
    response by angular frequency is taken from the formula too.
    """
    import scipy.signal as ss

    pole = 0.99  # its memory is 0.2 s, the tapered ends 0.375 s
    limits = (np.arange(3, 60) - 0.5) / 3  # one bin a band
    plain, corrected = [], []
    for seed in range(20):
        random = np.random.default_rng((10, seed))
        drive = random.standard_normal(1500 + 3000)
        response = ss.lfilter([1 - pole], [1, -pole], drive)[3000:]
        drive = drive[3000:]
        sums = banded([Stretch(RATE, drive, drive, response, np.zeros((0, 1500)))], limits)
        w = 2 * np.pi * sums.frequencies / RATE
        z = np.exp(-1j * w)
        truth = (1 - pole) / (1 - pole * z)
        slope = (1 - pole) * (-1j * pole * z) / (1 - pole * z) ** 2 / RATE  # by angular frequency, s
        power = sums.command_command[:, 0, 0].real
        left = sums.command_response[:, 0] - truth * sums.command_drive[:, 0, 0]
        plain.append(np.abs(left / power / truth))
        corrected.append(np.abs((left - 1j * slope * sums.command_ends[:, 0]) / power / truth))
    assert np.mean(corrected) < 0.5 * np.mean(plain)
