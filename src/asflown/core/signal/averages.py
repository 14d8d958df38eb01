"""How far averaged spectra and responses may be off by chance.

Sources: P. D. Welch, IEEE Trans. Audio Electroacoustics AU-15(2), June 1967, and Harris 1978 for the
effective number of averages; J. S. Bendat & A. G. Piersol, *Random Data*, 4th edition, Wiley 2010, chapter 9
for the random errors (all from memory; the gain and coherence errors agree with a Monte Carlo of 4000 runs).

All errors are one standard deviation, relative unless said; ``coherence`` is the squared one (0 to 1) and
``averages`` the *effective* number, not the number of overlapped segments.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.signal.windows import FloatArray, overlap_correlation


def effective_averages(segments: int, weights: npt.ArrayLike, hop: int) -> float:
    """Number of independent averages that as many overlapped segments, evenly spaced, are worth.

    Parameters
    ----------
    segments
        Number of segments, one or more.
    weights
        Window ``(n,)``.
    hop
        Samples from one segment to the next.

    Returns
    -------
    float
        ``K / (1 + 2 sum (1 - m/K) r_m²)``, with r_m the window's correlation at m hops.

    Examples
    --------
    >>> from asflown.core.signal.windows import window_weights
    >>> round(effective_averages(20, window_weights("hann", 4096), 2048), 4)
    18.9974
    """
    window = np.asarray(weights, dtype=np.float64)
    m = np.arange(1, min(segments, -(-window.size // hop)))
    r = overlap_correlation(window, m * hop)
    return float(segments / (1.0 + 2.0 * np.sum((1.0 - m / segments) * r * r)))


def effective_averages_at(
    starts: npt.ArrayLike, weights: npt.ArrayLike, shares: npt.ArrayLike | None = None
) -> float:
    """As :func:`effective_averages`, for segments at any places and with any shares.

    Parameters
    ----------
    starts
        ``(k,)`` first sample of each segment, increasing.
    weights
        Window ``(n,)``.
    shares
        ``(k,)`` weight of each segment in the average; ``None``: all alike.

    Returns
    -------
    float
        ``(sum s)² / sum s_i s_j r_ij²``.
    """
    window = np.asarray(weights, dtype=np.float64)
    first = np.asarray(starts, dtype=np.int64)
    share = np.ones(first.size) if shares is None else np.asarray(shares, dtype=np.float64)
    total = float(share @ share)
    for m in range(1, first.size):
        apart = first[m:] - first[:-m]
        near = apart < window.size
        if not near.any():
            break
        r = overlap_correlation(window, apart[near])
        total += 2.0 * float(np.sum((share[m:] * share[:-m])[near] * r * r))
    return float(np.sum(share)) ** 2 / total if total > 0.0 else 0.0


def gain_error(coherence: npt.ArrayLike, averages: npt.ArrayLike) -> FloatArray:
    """Relative random error of the gain of a frequency response (H1): ``sqrt((1 - g2) / (2 g2 nd))``."""
    g2, nd = np.asarray(coherence, dtype=np.float64), np.asarray(averages, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.sqrt((1.0 - g2) / (2.0 * g2 * nd)))


def phase_error(coherence: npt.ArrayLike, averages: npt.ArrayLike) -> FloatArray:
    """Random error of the phase of a frequency response, rad: asin of the gain's, at most pi / 2."""
    return np.asarray(np.arcsin(np.minimum(gain_error(coherence, averages), 1.0)))


def coherence_error(coherence: npt.ArrayLike, averages: npt.ArrayLike) -> FloatArray:
    """Relative random error of the coherence: ``sqrt(2) (1 - g2) / (sqrt(g2) sqrt(nd))``."""
    g2, nd = np.asarray(coherence, dtype=np.float64), np.asarray(averages, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.sqrt(2.0) * (1.0 - g2) / np.sqrt(g2 * nd))


def spectrum_error(averages: npt.ArrayLike) -> FloatArray:
    """Relative random error of an auto spectrum: ``1 / sqrt(nd)``."""
    return np.asarray(1.0 / np.sqrt(np.asarray(averages, dtype=np.float64)))


def no_relation(averages: npt.ArrayLike, level: float = 0.95) -> FloatArray:
    """Coherence that two unrelated signals stay below in a share ``level`` of cases.

    ``1 - (1 - level)^(1 / (nd - 1))``; one where there is no more than one average: nothing can be told.
    """
    nd = np.asarray(averages, dtype=np.float64)
    with np.errstate(divide="ignore"):
        exponent = np.where(nd > 1.0, 1.0 / (nd - 1.0), np.inf)
    return np.asarray(1.0 - (1.0 - level) ** exponent)
