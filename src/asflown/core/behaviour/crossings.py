"""Where sampled curves cross a level: local cubics on a grid, and sharpening on a function.

Shared by the handling figures and the loop margins. Curves are held as rows, ``(rows, nf)``, over one grid
``(nf,)`` of log frequency, any spacing.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex128]
IndexArray = npt.NDArray[np.intp]
#: A frequency response: frequencies (n,) in Hz in, complex gain (n,) out.
Response = Callable[[FloatArray], ComplexArray]

_POINTS = 4  # of a local cubic
_NEWTON_STEPS = 6
_CACHED = 12_800  # samples worked on at a time
_ZOOM_POINTS = 33
_ZOOM_ROUNDS = 11  # 32**-11 of a bracket: below the spacing of doubles


def log_grid(frequencies: npt.ArrayLike) -> FloatArray:
    """Natural logarithm of a grid of frequencies in Hz.

    Raises
    ------
    ValueError
        Unless there are four or more, all above zero and increasing.
    """
    grid = np.asarray(frequencies, dtype=np.float64)
    if grid.ndim != 1 or grid.size < _POINTS:
        raise ValueError(f"a grid of frequencies is one row of {_POINTS} or more, got shape {grid.shape}")
    if not grid[0] > 0.0 or not np.all(np.diff(grid) > 0.0):
        raise ValueError("frequencies are above zero and increase")
    return np.asarray(np.log(grid))


def rows_of(values: npt.ArrayLike, points: int) -> tuple[ComplexArray, tuple[int, ...]]:
    """Responses ``(..., nf)`` as rows ``(rows, nf)``, and the shape of the leading axes."""
    response = np.asarray(values, dtype=np.complex128)
    if response.ndim == 0 or response.shape[-1] != points:
        raise ValueError(f"a response has {points} values, one a frequency, got shape {response.shape}")
    return response.reshape(-1, points), response.shape[:-1]


def wrapped(phase: FloatArray) -> FloatArray:
    """Phase in radians brought into -pi to pi."""
    return np.asarray(phase - 2.0 * np.pi * np.rint(phase / (2.0 * np.pi)))


def unwrapped_phase(rows: ComplexArray) -> FloatArray:
    """Phase in radians ``(rows, nf)``, unwrapped from the lowest frequency."""
    phase = np.empty(rows.shape)
    some = max(1, _CACHED // max(1, rows.shape[1]))  # a few rows at a time: half the time of all at once
    for first in range(0, rows.shape[0], some):
        part = rows[first : first + some]
        angle = np.arctan2(part.imag, part.real, out=phase[first : first + some])
        step = angle[:, 1:] - angle[:, :-1]
        jumps = np.flatnonzero(~np.all(np.abs(step) <= np.pi, axis=-1))
        turns = np.cumsum(np.rint(step[jumps] / (2.0 * np.pi)), axis=-1)
        angle[jumps, 1:] -= 2.0 * np.pi * turns
    return phase


def stencil(index: IndexArray, points: int) -> IndexArray:
    """Indices ``(k, 4)`` of the samples round each interval ``index`` to ``index + 1``."""
    first = np.clip(index - 1, 0, points - _POINTS)
    return np.asarray(first[:, None] + np.arange(_POINTS))


def cubic_at(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Value at ``at`` ``(k,)`` of cubics through four points each, ``x`` and ``y`` ``(k, 4)``."""
    return _value_and_slope(x, _divided(x, y), at)[0]


def _divided(x: FloatArray, y: FloatArray) -> tuple[FloatArray, ...]:
    """Newton's divided differences of four points each: the four factors of the cubic, ``(k,)``."""
    first = (y[:, 1:] - y[:, :-1]) / (x[:, 1:] - x[:, :-1])
    second = (first[:, 1:] - first[:, :-1]) / (x[:, 2:] - x[:, :-2])
    third = (second[:, 1] - second[:, 0]) / (x[:, 3] - x[:, 0])
    return y[:, 0], first[:, 0], second[:, 0], third


def _value_and_slope(
    x: FloatArray, cubic: tuple[FloatArray, ...], at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    zeroth, first, second, third = cubic
    d0, d1, d2 = at - x[:, 0], at - x[:, 1], at - x[:, 2]
    inner = second + d2 * third
    value = zeroth + d0 * (first + d1 * inner)
    return value, first + (d0 + d1) * inner + d0 * d1 * third


def cubic_root(x: FloatArray, y: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Root between ``low`` and ``high`` ``(k,)`` of cubics that change sign there: Newton in its bracket."""
    cubic = _divided(x, y)
    at_low = _value_and_slope(x, cubic, low)[0]
    at_high = _value_and_slope(x, cubic, high)[0]
    sign_low = np.signbit(at_low)
    with np.errstate(divide="ignore", invalid="ignore"):
        guess = low - at_low * (high - low) / (at_high - at_low)
        guess = np.where((guess >= low) & (guess <= high), guess, 0.5 * (low + high))
        for _ in range(_NEWTON_STEPS):
            value, slope = _value_and_slope(x, cubic, guess)
            same = np.signbit(value) == sign_low
            low, high = np.where(same, guess, low), np.where(same, high, guess)
            step = guess - value / slope
            guess = np.where((step >= low) & (step <= high), step, 0.5 * (low + high))
    return np.asarray(guess)


def parabola_top(
    x: FloatArray, y: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """Turning points of parabolas through three points each, ``x`` and ``y`` ``(k, 3)``.

    Returns
    -------
    tuple
        ``(k,)`` place, value, bend (above zero: a least value), and whether the place lies within the points.
    """
    first = np.diff(y, axis=1) / np.diff(x, axis=1)
    bend = (first[:, 1] - first[:, 0]) / (x[:, 2] - x[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        at = 0.5 * (x[:, 0] + x[:, 1] - first[:, 0] / bend)
        value = y[:, 0] + (at - x[:, 0]) * (first[:, 0] + bend * (at - x[:, 1]))
    return at, value, bend, (at > x[:, 0]) & (at < x[:, 2])


def sharpen_root(function: Callable[[FloatArray], FloatArray], low: float, high: float) -> float:
    """Root of a function between two places of unlike sign, to the spacing of doubles; NaN without one."""
    for _ in range(_ZOOM_ROUNDS):
        places = np.linspace(low, high, _ZOOM_POINTS)
        signs = np.signbit(function(places))
        changes = np.flatnonzero(signs[1:] != signs[:-1])
        if changes.size == 0:
            return float("nan")
        low, high = float(places[changes[0]]), float(places[changes[0] + 1])
    return 0.5 * (low + high)


def sharpen_least(
    function: Callable[[FloatArray], FloatArray], low: float, high: float
) -> tuple[float, float]:
    """Place and value of the least of a function with one dip between ``low`` and ``high``."""
    place = value = float("nan")
    for _ in range(_ZOOM_ROUNDS):
        places = np.linspace(low, high, _ZOOM_POINTS)
        values = function(places)
        best = int(np.argmin(values))
        place, value = float(places[best]), float(values[best])
        low = float(places[max(best - 1, 0)])
        high = float(places[min(best + 1, _ZOOM_POINTS - 1)])
    return place, value
