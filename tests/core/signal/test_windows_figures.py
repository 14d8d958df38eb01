"""Window figures against the check values, section 1.1: Harris 1978 table I, digits from scipy.signal.get_window."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.signal.windows import (
    Window,
    kaiser_weights,
    overlap_correlation,
    window_figures,
    window_weights,
)

N = 4096
# coherent gain, noise bandwidth (bins), scallop, worst loss (dB), correlation at 75 % and 50 % overlap
TABLE = {
    "rectangle": (1.0, 1.0, 3.922397, 3.922397, 0.75, 0.5),
    "hann": (0.5, 1.5, 1.423623, 3.184535, 0.659155, 0.166667),
    "hamming": (0.54, 1.362826, 1.751431, 3.095835, 0.706919, 0.233770),
    "blackman": (0.42, 1.726757, 1.098879, 3.471192, 0.566666, 0.089626),
    "blackman-harris": (0.35875, 2.004353, 0.825572, 3.845314, 0.459985, 0.037602),
    "flat-top": (0.215579, 3.770246, 0.009778, 5.773475, 0.045503, -0.015260),
}
SCIPY = {
    "rectangle": "boxcar",
    "hann": "hann",
    "hamming": "hamming",
    "blackman": "blackman",
    "blackman-harris": "blackmanharris",
    "flat-top": "flattop",
}


def figures_of(weights):
    found = window_figures(weights)
    return (
        found.coherent_gain,
        found.noise_bandwidth,
        found.scallop,
        found.worst_loss,
        *overlap_correlation(weights, [N // 4, N // 2]),
    )


@pytest.mark.parametrize("name, row", TABLE.items())
def test_figures_are_those_of_the_table(name, row):
    assert figures_of(window_weights(name, N)) == pytest.approx(row, abs=1e-6)


def test_kaiser_figures_are_those_of_the_table():
    """Tolerance of the table: 5e-4."""
    row = (0.489194, 1.496342, 1.452713, 3.203021, 0.656648, 0.169042)
    assert figures_of(kaiser_weights(N, 2.0)) == pytest.approx(row, abs=5e-4)
    assert kaiser_weights(64) == pytest.approx(scipy.signal.get_window(("kaiser", 2 * np.pi), 64), abs=1e-15)


@pytest.mark.parametrize("name", list(Window))
@pytest.mark.parametrize("length", [4, 15, 64])
def test_weights_are_those_of_scipy(name, length):
    assert window_weights(name, length) == pytest.approx(
        scipy.signal.get_window(SCIPY[name], length), abs=1e-15
    )


@given(length=st.integers(2, 80), shift=st.integers(-100, 100))
def test_overlap_correlation_is_even_and_ends(length, shift):
    weights = window_weights("hann", length) + 0.1
    r = float(overlap_correlation(weights, shift))
    assert r == float(overlap_correlation(weights, -shift))
    assert (r == 0.0) == (abs(shift) >= length)
    assert float(overlap_correlation(weights, 0)) == pytest.approx(1.0)


def test_an_unknown_window_is_refused():
    with pytest.raises(ValueError, match="triangle"):
        window_weights("triangle", 8)
