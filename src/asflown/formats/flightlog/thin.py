"""Rows made fewer by a whole number, with a filter before it against aliasing, batch after batch."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Numbers = npt.NDArray[np.floating]

#: Pass band to 0.8 of half the new rate, stop band from 1.2 of it: what folds lands above 0.8.
PASS, STOP = 0.8, 1.2
#: Least attenuation in the stop band, dB.
ATTENUATION_DB = 82.0
_OUTPUTS = 64


def filter_taps(factor: int) -> npt.NDArray[np.float64]:
    """Taps of the linear-phase low-pass filter for a decimation by ``factor``: odd, symmetric, sum 1.

    A sinc under a Kaiser window: J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window
    function", Proc. IEEE ISCAS 1974: beta = 0.1102 (A - 8.7), order = (A - 7.95) / (2.285 width); formulas
    from memory, the attenuation is measured in the tests.
    """
    width = math.pi * (STOP - PASS) / factor
    order = math.ceil((ATTENUATION_DB - 7.95) / (2.285 * width))
    half = (order + 1) // 2 + 1
    place = np.arange(-half, half + 1)
    taps = np.sinc(place / factor) * np.kaiser(2 * half + 1, 0.1102 * (ATTENUATION_DB - 8.7))
    return np.asarray(taps / taps.sum())


class Decimator:
    """One column decimated as its batches come.

    Output ``k`` stands at input ``k * factor``; what is missing (not a number, and what lies before the first
    and after the last row) is left out of the weighted mean; an output with less than half its weight is
    missing.
    """

    def __init__(self, factor: int, taps: npt.NDArray[np.float64], dtype: npt.DTypeLike) -> None:
        self._factor = factor
        self._half = len(taps) // 2
        self._held: Numbers = np.full(self._half, np.nan, dtype)
        inputs = (_OUTPUTS - 1) * factor + len(taps)
        self._matrix = np.zeros((inputs, _OUTPUTS), dtype)
        for output in range(_OUTPUTS):
            self._matrix[output * factor : output * factor + len(taps), output] = taps
        self._taken = 0
        self._given = 0

    def widen(self) -> None:
        """Go on in float64."""
        self._held, self._matrix = self._held.astype(np.float64), self._matrix.astype(np.float64)

    def push(self, values: Numbers) -> Numbers:
        """Take a batch; the outputs that are complete by now."""
        self._taken += len(values)
        self._held = np.concatenate((self._held, values), dtype=self._matrix.dtype)
        return self._blocks()

    def finish(self) -> Numbers:
        """The last outputs: one for every ``factor`` rows begun."""
        left = -(-self._taken // self._factor) - self._given
        self._held = np.concatenate(
            (self._held, np.full(self._matrix.shape[0] + _OUTPUTS * self._factor, np.nan, self._held.dtype))
        )
        made = self._blocks()[:left]
        self._held = self._held[:0]
        return made

    def _blocks(self) -> Numbers:
        inputs, step = self._matrix.shape[0], _OUTPUTS * self._factor
        count = max(0, (len(self._held) - inputs) // step + 1)
        if not count:
            return self._held[:0].copy()
        windows = np.lib.stride_tricks.sliding_window_view(self._held, inputs)[::step][:count]
        made = _mean(windows, self._matrix)
        self._held = self._held[count * step :].copy()
        self._given += made.size
        return made


def _mean(windows: Numbers, matrix: Numbers) -> Numbers:
    """Weighted means of finite values; not a number where less than half the weight is there."""
    windows = np.ascontiguousarray(windows)
    there = np.isfinite(windows)
    holed = ~there.all(axis=1)
    with np.errstate(invalid="ignore"):
        made = np.asarray(windows @ matrix)
    if holed.any():
        weight = there[holed].astype(matrix.dtype) @ matrix
        total = np.where(there[holed], windows[holed], 0) @ matrix
        with np.errstate(divide="ignore", invalid="ignore"):
            made[holed] = np.where(weight >= 0.5, total / weight, np.nan)
    return made.reshape(-1)


class Picker:
    """Every ``factor``-th row as it is, batch after batch: for times, words and codes."""

    def __init__(self, factor: int) -> None:
        self._factor = factor
        self._next = 0

    def places(self, count: int) -> slice:
        """Which rows of a batch of ``count`` are kept."""
        kept = slice(self._next, count, self._factor)
        if self._next < count:
            self._next += -(-(count - self._next) // self._factor) * self._factor
        self._next -= count
        return kept
