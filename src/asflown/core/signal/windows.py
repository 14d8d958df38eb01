"""Windows of the discrete Fourier transform and their figures.

Source: F. J. Harris, "On the Use of Windows for Harmonic Analysis with the DFT", Proc. IEEE 66(1), January
1978, table I (columns from memory; digits held against scipy.signal.get_window). His 1.78 dB for the scallop
of the Hamming window is not what 0.54 and 0.46 give (1.751 dB).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


class Window(StrEnum):
    """Windows by name; all *periodic*: the sample that would repeat the first is left out."""

    RECTANGLE = "rectangle"
    HANN = "hann"
    HAMMING = "hamming"
    BLACKMAN = "blackman"
    BLACKMAN_HARRIS = "blackman-harris"
    FLAT_TOP = "flat-top"


#: Factors of cos(2 pi k n / N), signs alternating.
_COSINES = {
    Window.RECTANGLE: (1.0,),
    Window.HANN: (0.5, 0.5),
    Window.HAMMING: (0.54, 0.46),
    Window.BLACKMAN: (0.42, 0.5, 0.08),
    Window.BLACKMAN_HARRIS: (0.35875, 0.48829, 0.14128, 0.01168),
    Window.FLAT_TOP: (0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368),
}


def window_weights(name: Window | str, length: int) -> FloatArray:
    """Weights ``(length,)`` of a window.

    Examples
    --------
    >>> window_weights("hann", 4).round(12).tolist()
    [0.0, 0.5, 1.0, 0.5]
    """
    angle = 2.0 * np.pi * np.arange(length) / length
    weights = np.zeros(length)
    for k, factor in enumerate(_COSINES[Window(name)]):
        weights += (-1.0) ** k * factor * np.cos(k * angle)
    return weights


def kaiser_weights(length: int, alpha: float = 2.0) -> FloatArray:
    """Weights ``(length,)`` of the Kaiser window of shape ``alpha`` (the ``beta`` of others is pi alpha)."""
    return np.asarray(np.kaiser(length + 1, np.pi * alpha)[:-1])


@dataclass(frozen=True, slots=True)
class WindowFigures:
    """What a window does to a spectrum.

    Attributes
    ----------
    coherent_gain
        Amplitude of a line on a bin, ratio.
    noise_bandwidth
        Equivalent noise bandwidth, in bins (of rate / length Hz).
    scallop
        Loss of a line half-way between bins, dB.
    worst_loss
        Scallop and noise bandwidth together: loss of a line against noise, dB.
    """

    coherent_gain: float
    noise_bandwidth: float
    scallop: float
    worst_loss: float


def window_figures(weights: npt.ArrayLike) -> WindowFigures:
    """Figures of any window from its weights ``(n,)``."""
    w = np.asarray(weights, dtype=np.float64)
    total = float(np.sum(w))
    bandwidth = w.size * float(np.sum(w * w)) / total**2
    half_bin = abs(complex(np.sum(w * np.exp(-1j * np.pi * np.arange(w.size) / w.size))))
    scallop = -20.0 * np.log10(half_bin / total)
    return WindowFigures(
        total / w.size, bandwidth, float(scallop), float(scallop + 10.0 * np.log10(bandwidth))
    )


def overlap_correlation(weights: npt.ArrayLike, shift: npt.ArrayLike) -> FloatArray:
    """Correlation of the spectra of white noise under two windows some samples apart.

    Parameters
    ----------
    weights
        ``(n,)``.
    shift
        ``(...)`` samples from one window to the other, either sign.

    Returns
    -------
    ndarray
        ``(...)``: ``sum w[i] w[i + shift] / sum w²``; zero from ``n`` samples on.
    """
    w = np.asarray(weights, dtype=np.float64)
    apart = np.abs(np.asarray(shift, dtype=np.int64))
    different, where = np.unique(apart, return_inverse=True)
    found = np.array([float(w[: max(w.size - d, 0)] @ w[min(d, w.size) :]) for d in different.tolist()])
    return np.asarray(found[where].reshape(apart.shape) / float(w @ w))
