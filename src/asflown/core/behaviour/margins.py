"""Margins of a loop: crossover, phase and gain margin, peak sensitivity, delay margin, stability by winding.

Conventions, for L the loop as broken at one place, negative feedback (closed loop 1 / (1 + L)):

- crossover: the *last* downward crossing of ``|L| = 1``; the phase margin is read there, 180 deg + phase(L)
  brought into -180 to 180 deg, so an unstable loop usually shows a negative one;
- gain margin: where L crosses the negative real axis (phase through -180 deg, either way, any turn),
  -20 log10 |L|; with several crossings the one of the smallest |dB| is reported: how little gain, up or down,
  brings the loop to the edge. It is negative where the gain must come down;
- peak sensitivity: the largest 1 / |1 + L|;
- delay margin: phase margin over 360 deg and crossover, negative where the phase margin is.

Margins are the distance to the edge, not the proof of being on the right side of it: :func:`is_stable` is.
Source: Astrom & Murray, *Feedback Systems*, chapter 10 (from memory); digits held against python-control.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.crossings import (
    ComplexArray,
    FloatArray,
    Response,
    cubic_at,
    cubic_root,
    log_grid,
    parabola_top,
    rows_of,
    sharpen_least,
    sharpen_root,
    stencil,
    wrapped,
)

_DECIBELS = 20.0 / np.log(10.0)  # of one natural logarithm of amplitude


@dataclass(frozen=True, slots=True)
class LoopMargins:
    """Margins of one or many loops; each array has the leading shape of the loops.

    Attributes
    ----------
    crossover, phase_crossover, peak_frequency
        Hz; NaN where the grid holds none.
    phase_margin
        deg. NaN without a crossover on the grid (infinite when exact).
    gain_margin
        dB. NaN without a phase crossover on the grid (infinite when exact).
    peak_sensitivity
        Ratio, at ``peak_frequency``; at the edge of the grid when it still grows there.
    delay_margin
        s, by the phase margin at the crossover.
    """

    crossover: FloatArray
    phase_margin: FloatArray
    phase_crossover: FloatArray
    gain_margin: FloatArray
    peak_sensitivity: FloatArray
    peak_frequency: FloatArray
    delay_margin: FloatArray


def loop_margins(frequencies: npt.ArrayLike, loop: npt.ArrayLike) -> LoopMargins:
    """Margins of sampled loops, all at once.

    Parameters
    ----------
    frequencies
        ``(nf,)`` Hz, increasing, any spacing; four or more.
    loop
        ``(..., nf)`` complex.

    Returns
    -------
    LoopMargins
        Arrays of the leading shape. Crossings are read from cubics in log f through the four nearest samples,
        the peak from a parabola in log f through the three nearest.

    Examples
    --------
    >>> import numpy as np
    >>> f = np.geomspace(0.01, 10.0, 400)
    >>> margins = loop_margins(f, 3.0 / (2j * np.pi * f + 1.0) ** 3)
    >>> round(float(margins.gain_margin), 3), round(float(margins.phase_margin), 3)
    (8.519, 41.69)
    """
    x = log_grid(frequencies)
    rows, shape = rows_of(loop, x.size)
    crossover, phase_margin = _gain_crossings(x, rows)
    phase_crossover, gain_margin = _phase_crossings(x, rows)
    peak, peak_frequency = _peak(x, rows)
    delay = phase_margin / (360.0 * crossover)
    figures = (crossover, phase_margin, phase_crossover, gain_margin, peak, peak_frequency, delay)
    return LoopMargins(*(np.asarray(figure).reshape(shape) for figure in figures))


def _log_gain(picked: ComplexArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        return np.asarray(0.5 * np.log(picked.real**2 + picked.imag**2))


def _angle_from_minus_one(picked: ComplexArray, centre: npt.NDArray[np.intp]) -> FloatArray:
    """Angle in radians of -L at four nodes, each brought within half a turn of the node ``centre``."""
    angle = np.angle(-picked)
    middle = np.take_along_axis(angle, centre[:, None], axis=1)
    return middle + wrapped(angle - middle)


def _gain_crossings(x: FloatArray, rows: ComplexArray) -> tuple[FloatArray, FloatArray]:
    """Crossover in Hz and phase margin in deg of each row; NaN without one."""
    place, margin = np.full((2, rows.shape[0]), np.nan)
    above = rows.real**2 + rows.imag**2 >= 1.0
    down = above[:, :-1] & ~above[:, 1:]
    has = np.flatnonzero(np.any(down, axis=1))
    last = x.size - 2 - np.argmax(down[has, ::-1], axis=1)
    nodes = stencil(last, x.size)
    picked = rows[has[:, None], nodes]
    at = cubic_root(x[nodes], _log_gain(picked), x[last], x[last + 1])
    angle = cubic_at(x[nodes], _angle_from_minus_one(picked, last - nodes[:, 0]), at)
    place[has] = np.exp(at)
    margin[has] = np.degrees(wrapped(angle))
    return place, margin


def _phase_crossings(x: FloatArray, rows: ComplexArray) -> tuple[FloatArray, FloatArray]:
    """Phase crossover in Hz and gain margin in dB of each row, of the smallest |dB|; NaN without one."""
    place, margin = np.full((2, rows.shape[0]), np.nan)
    re, im = rows.real, rows.imag
    above = im >= 0.0
    change = above[:, 1:] != above[:, :-1]
    # the chord meets the real axis at (re im' - re' im) / (im' - im): below zero?
    row, index = np.nonzero(change)
    left, right = im[row, index], im[row, index + 1]
    meets = (re[row, index] * right - re[row, index + 1] * left) * (right - left) < 0.0
    row, index = row[meets], index[meets]
    nodes = stencil(index, x.size)
    picked = rows[row[:, None], nodes]
    at = cubic_root(x[nodes], _angle_from_minus_one(picked, index - nodes[:, 0]), x[index], x[index + 1])
    decibels = -_DECIBELS * cubic_at(x[nodes], _log_gain(picked), at)
    # of several of one row the smallest comes last, and stays
    order = np.argsort(-np.abs(decibels), kind="stable")
    place[row[order]] = np.exp(at[order])
    margin[row[order]] = decibels[order]
    return place, margin


def _peak(x: FloatArray, rows: ComplexArray) -> tuple[FloatArray, FloatArray]:
    """Largest 1 / |1 + L| of each row and its frequency in Hz."""
    distance = (1.0 + rows.real) ** 2 + rows.imag**2
    least = np.argmin(np.where(np.isnan(distance), np.inf, distance), axis=1)
    nodes = np.clip(least - 1, 0, x.size - 3)[:, None] + np.arange(3)
    y = np.take_along_axis(distance, nodes, axis=1)
    at, value, bend, within = parabola_top(x[nodes], y)
    inside = within & (bend > 0.0) & (value > 0.0)
    edge = np.take_along_axis(distance, least[:, None], axis=1)[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        peak = 1.0 / np.sqrt(np.where(inside, value, edge))
    return peak, np.exp(np.where(inside, at, x[least]))


def exact_margins(loop: Response, low: float = 1e-3, high: float = 1e3, samples: int = 20_001) -> LoopMargins:
    """Margins of a loop known as a function, to 1e-12 of each frequency (1e-7 of that of the peak).

    Parameters
    ----------
    loop
        Complex ``(n,)`` at frequencies ``(n,)`` in Hz.
    low, high
        Hz: where crossings are looked for, on ``samples`` points evenly spaced in log f.

    Returns
    -------
    LoopMargins
        Arrays of shape ``()``; a margin without its crossing between ``low`` and ``high`` is infinite.
    """
    grid = np.geomspace(low, high, samples)
    rough = loop_margins(grid, loop(grid))
    crossover = _sharp(lambda f: np.log(np.abs(loop(f))), float(rough.crossover))
    phase_crossover = _sharp(lambda f: np.angle(-loop(f)), float(rough.phase_crossover))
    phase_margin = gain_margin = delay = float("inf")
    if np.isfinite(crossover):
        phase_margin = float(np.degrees(np.angle(-loop(np.array([crossover]))[0])))
        delay = phase_margin / (360.0 * crossover)
    if np.isfinite(phase_crossover):
        gain_margin = float(-20.0 * np.log10(np.abs(loop(np.array([phase_crossover]))[0])))
    ratio = (high / low) ** (1.5 / (samples - 1))
    middle = float(rough.peak_frequency)
    bounds = max(middle / ratio, low), min(middle * ratio, high)
    peak_frequency, least = sharpen_least(lambda f: np.abs(1.0 + loop(f)), *bounds)
    figures = (crossover, phase_margin, phase_crossover, gain_margin, 1.0 / least, peak_frequency, delay)
    return LoopMargins(*(np.asarray(figure) for figure in figures))


def _sharp(function: Callable[[FloatArray], FloatArray], rough: float) -> float:
    if not np.isfinite(rough):
        return float("nan")
    return sharpen_root(function, rough * 0.999, rough * 1.001)


def is_stable(
    loop: npt.ArrayLike, unstable_poles: int = 0, integrators: int | None = None
) -> npt.NDArray[np.bool_]:
    """Whether the closed loop 1 / (1 + L) is stable, by the winding of 1 + L round zero (Nyquist).

    Parameters
    ----------
    loop
        ``(..., nf)`` complex samples of L in order of frequency, from where L is ruled by its integrators (or
        is constant) to where it is small. Between samples the path is taken as straight, so they must be
        close enough that a straight piece and the curve pass -1 on the same side.
    unstable_poles
        Poles of L in the right half plane.
    integrators
        Poles of L at zero. When given, the phase at the low end is taken as the turn nearest to -90 deg each
        (0: L there is real). ``None``: the phase of 1 + L at the low end is taken between -270 and 90 deg,
        right for none (with L > -1 there), one and two.

    Returns
    -------
    ndarray of bool
        ``(...)``. False as well where it cannot be told: a value not finite, or ``|L| >= 1`` at the last
        sample.

    Notes
    -----
    Over positive frequencies 1 + L must turn by (unstable poles) · 180 deg, counted from the positive real
    axis round the poles at zero to the rest at 1.
    """
    samples = np.asarray(loop, dtype=np.complex128)
    rows, shape = rows_of(samples, samples.shape[-1])
    tells = np.all(np.isfinite(rows), axis=1) & (np.abs(rows[:, -1]) < 1.0)
    path = 1.0 + np.where(np.isfinite(rows), rows, 0.0)
    start = np.angle(path[:, 0])
    turned = np.sum(np.angle(path[:, 1:] * np.conj(path[:, :-1])), axis=1)
    if integrators == 0:
        begin = np.pi * np.rint(start / np.pi)
    else:
        middle = -0.5 * np.pi * (1 if integrators is None else integrators)
        start = middle + wrapped(start - middle)
        begin = np.zeros_like(start)
    # the end: on to the positive real axis by the shorter way
    end = 2.0 * np.pi * np.rint((start + turned) / (2.0 * np.pi))
    half_turns = np.rint((end - begin) / np.pi).astype(int)
    return np.asarray((half_turns == unstable_poles) & tells).reshape(shape)
