"""Bandwidth and phase delay of an aircraft's answer to a command, as ADS-33 defines them.

Source: ADS-33E-PRF, US Army AMCOM, 21 March 2000, section 3.3.2.1 and the figure "Definitions of bandwidth
and phase delay" (title, figure and phase delay from memory; the bandwidth rule from a public note citing
AIAA 2002-4869).

The standard speaks of the *angle* in answer to the command. A flight log holds the *rate*. With the angle
A = R / (j 2 pi f) of a rate R, the rules become (*adapted to rate response*, figures unchanged):

===================  ===========================  =================================
figure               angle over command           rate over command
===================  ===========================  =================================
f180                 phase first -180 deg         phase first -90 deg
bandwidth, phase     phase first -135 deg         phase first -45 deg
bandwidth, gain      highest f below f180 where the gain is that at f180 + 6 dB
                     of |A|                       of |R| / f
phase delay          -(phase(2 f180) + 180 deg) / (360 deg · 2 f180)
===================  ===========================  =================================

The standard prints 57.3 for the degrees of a radian; 180/pi is used here, which makes the phase delay 7.4e-5
larger (relative). Everything is in Hz and seconds; multiply by 2 pi for the rad/s of the standard.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.crossings import (
    ComplexArray,
    FloatArray,
    IndexArray,
    Response,
    cubic_at,
    cubic_root,
    log_grid,
    rows_of,
    sharpen_root,
    stencil,
    unwrapped_phase,
)

SIX_DECIBELS = 10.0**0.3  # as a ratio of amplitudes: 6 dB, not a factor of two
_PHASE_45 = -0.25 * np.pi
_PHASE_90 = -0.5 * np.pi


@dataclass(frozen=True, slots=True)
class RateResponse:
    """Handling figures of one or many responses; each array has the leading shape of the responses.

    Attributes
    ----------
    bandwidth_phase, bandwidth_gain, f180
        Hz. NaN where the grid does not hold the crossing, or the response starts beyond it.
    phase_delay
        s. NaN where ``2 f180`` lies above the grid: see :func:`phase_delay_by_line`.
    """

    bandwidth_phase: FloatArray
    bandwidth_gain: FloatArray
    f180: FloatArray
    phase_delay: FloatArray

    @property
    def bandwidth(self) -> FloatArray:
        """The bandwidth of a rate-type aircraft: the lesser of the two, Hz."""
        return np.asarray(np.minimum(self.bandwidth_phase, self.bandwidth_gain))

    @property
    def bandwidth_attitude(self) -> FloatArray:
        """The bandwidth of an attitude-type aircraft: by phase alone, Hz."""
        return self.bandwidth_phase

    @property
    def gain_limited(self) -> npt.NDArray[np.bool_]:
        """Whether gain, not phase, sets the lesser bandwidth (to be flagged for an attitude type)."""
        return np.asarray(self.bandwidth_gain < self.bandwidth_phase)


def rate_response(frequencies: npt.ArrayLike, response: npt.ArrayLike) -> RateResponse:
    """Handling figures of sampled rate responses, all at once.

    Parameters
    ----------
    frequencies
        ``(nf,)`` Hz, increasing, any spacing; four or more.
    response
        ``(..., nf)`` complex: rate over commanded rate. A row that is not finite at some frequency has no
        figure that needs a frequency from there on.

    Returns
    -------
    RateResponse
        Arrays of the leading shape. Crossings are read from cubics in log f through the four nearest samples;
        on a smooth response with 400 samples over two decades the error is below 1e-6.

    Notes
    -----
    The phase is unwrapped from the lowest frequency, and the *first* crossing counts: noise that crosses
    early moves the figure, so smooth or fit first.

    Examples
    --------
    >>> import numpy as np
    >>> f = np.geomspace(0.5, 50.0, 400)
    >>> figures = rate_response(f, np.exp(-2j * np.pi * f * 0.02))  # nothing but 20 ms of delay
    >>> round(float(figures.f180), 6), round(float(figures.phase_delay), 6)
    (12.5, 0.01)
    """
    x = log_grid(frequencies)
    rows, shape = rows_of(response, x.size)
    phase = unwrapped_phase(rows)
    x45, _ = _first_below(x, phase, _PHASE_45)
    x180, i180 = _first_below(x, phase, _PHASE_90)
    gain = _gain_crossing(x, rows, x180, i180)
    delay = _phase_delay(x, phase, x180)
    return RateResponse(
        *(
            np.asarray(figure, dtype=np.float64).reshape(shape)
            for figure in (np.exp(x45), np.exp(gain), np.exp(x180), delay)
        )
    )


def _first_below(x: FloatArray, phase: FloatArray, level: float) -> tuple[FloatArray, IndexArray]:
    """Log frequency where each phase first falls through a level (else NaN), and the interval's index."""
    below = phase < level
    first = np.argmax(below, axis=-1)
    found = np.flatnonzero((first > 0) & np.isfinite(phase[:, 0]))
    place = np.full(phase.shape[0], np.nan)
    index = first[found] - 1
    nodes = stencil(index, x.size)
    curve = np.take_along_axis(phase[found], nodes, axis=1) - level
    nodes_x = x[nodes]
    place[found] = cubic_root(nodes_x, _finite(curve, index, nodes), x[index], x[index + 1])
    return place, np.asarray(first - 1)


def _finite(curve: FloatArray, index: IndexArray, nodes: IndexArray) -> FloatArray:
    """The curve, where a sample outside the interval is not finite put on the line through the interval."""
    if np.all(np.isfinite(curve)):
        return curve
    at = (index - nodes[:, 0])[:, None]
    left = np.take_along_axis(curve, at, axis=1)
    right = np.take_along_axis(curve, at + 1, axis=1)
    line = left + (right - left) * (np.arange(nodes.shape[1]) - at)
    return np.where(np.isfinite(curve), curve, line)


def _interval(x: FloatArray, place: FloatArray) -> IndexArray:
    return np.asarray(np.clip(np.searchsorted(x, place, side="right") - 1, 0, x.size - 2))


def _log_angle_gain(x: FloatArray, rows: ComplexArray, row: IndexArray, nodes: IndexArray) -> FloatArray:
    """Natural logarithm of |R| / f of rows ``(k,)`` at their nodes ``(k, 4)``."""
    picked = rows[row[:, None], nodes]
    with np.errstate(divide="ignore"):
        return np.asarray(0.5 * np.log(picked.real**2 + picked.imag**2) - x[nodes])


def _gain_crossing(x: FloatArray, rows: ComplexArray, x180: FloatArray, i180: IndexArray) -> FloatArray:
    """Log of the highest frequency below f180 where |R| / f is 6 dB above that at f180; NaN without one."""
    place = np.full(rows.shape[0], np.nan)
    has = np.flatnonzero(np.isfinite(x180))
    if has.size == 0:
        return place
    nodes = stencil(i180[has], x.size)
    level = cubic_at(x[nodes], _log_angle_gain(x, rows, has, nodes), x180[has])
    target = np.full(rows.shape[0], np.inf)
    target[has] = level + np.log(SIX_DECIBELS)
    top = int(i180[has].max()) + 1
    power = rows.real[:, :top] ** 2
    power += rows.imag[:, :top] ** 2
    above = power >= np.exp(2.0 * target)[:, None] * np.exp(2.0 * x[:top])
    above &= np.arange(top) <= i180[:, None]
    last = top - 1 - np.argmax(above[:, ::-1], axis=1)
    has = np.flatnonzero(np.any(above, axis=1))
    last = last[has]
    nodes = stencil(last, x.size)
    curve = _log_angle_gain(x, rows, has, nodes) - target[has, None]
    place[has] = cubic_root(x[nodes], curve, x[last], np.minimum(x[last + 1], x180[has]))
    return place


def _phase_delay(x: FloatArray, phase: FloatArray, x180: FloatArray) -> FloatArray:
    """Phase delay in s from the phase at twice f180; NaN where that lies above the grid."""
    delay = np.full(phase.shape[0], np.nan)
    double = x180 + np.log(2.0)
    has = np.flatnonzero(double <= x[-1])
    nodes = stencil(_interval(x, double[has]), x.size)
    at_double = cubic_at(x[nodes], np.take_along_axis(phase[has], nodes, axis=1), double[has])
    delay[has] = -(at_double - _PHASE_90) / (2.0 * np.pi * np.exp(double[has]))
    return delay


def phase_delay_by_line(
    frequencies: npt.ArrayLike, response: npt.ArrayLike, f180: npt.ArrayLike
) -> FloatArray:
    """Phase delay in s from a line through the phase above f180, for a grid that ends before ``2 f180``.

    Parameters
    ----------
    frequencies
        ``(nf,)`` Hz.
    response
        ``(..., nf)`` rate over commanded rate.
    f180
        ``(...)`` Hz, where the rate phase is -90 deg.

    Returns
    -------
    ndarray
        ``(...)`` s; NaN with fewer than three samples above ``f180``. The line goes through -90 deg at f180
        and is fitted by least squares to the samples between f180 and ``2 f180``; its slope in deg per Hz
        over -720 is the phase delay (Tischler & Remple, *Aircraft and Rotorcraft System Identification*, from
        memory). Exact for a delay; where the phase still bends beyond f180 (a lag) it reads up to a quarter
        more than the two points of the standard.
    """
    grid = np.exp(log_grid(frequencies))
    rows, shape = rows_of(response, grid.size)
    cross = np.broadcast_to(np.asarray(f180, dtype=np.float64), shape).reshape(-1, 1)
    used = (grid > cross) & (grid <= 2.0 * cross)
    run = np.where(used, grid - cross, 0.0)
    rise = np.where(used, unwrapped_phase(rows) - _PHASE_90, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.sum(run * rise, axis=-1) / np.sum(run * run, axis=-1)
    enough = np.count_nonzero(used, axis=-1) >= 3
    return np.asarray(np.where(enough, -slope / (4.0 * np.pi), np.nan)).reshape(shape)


def exact_rate_response(
    response: Response, low: float = 1e-3, high: float = 1e3, samples: int = 20_001
) -> RateResponse:
    """Handling figures of a rate response known as a function, to 1e-12 of each frequency.

    Parameters
    ----------
    response
        Rate over commanded rate at frequencies ``(n,)`` in Hz, complex ``(n,)``.
    low, high
        Hz: where crossings are looked for, on ``samples`` points evenly spaced in log f. Choose them so that
        the phase turns less than half a turn from one to the next.

    Returns
    -------
    RateResponse
        Arrays of shape ``()``.
    """
    grid = np.geomspace(low, high, samples)
    rough = rate_response(grid, response(grid))
    f45 = _sharp_phase(response, float(rough.bandwidth_phase), _PHASE_45)
    f180 = _sharp_phase(response, float(rough.f180), _PHASE_90)
    delay = gain = float("nan")
    if np.isfinite(f180):
        at = response(np.array([f180, 2.0 * f180]))
        delay = _delay_near(float(np.angle(at[1])), f180, float(rough.phase_delay))
        level = float(np.abs(at[0])) / f180 * SIX_DECIBELS
        gain = _near(lambda f: np.abs(response(f)) / f - level, float(rough.bandwidth_gain), f180)
    return RateResponse(*(np.asarray(figure) for figure in (f45, gain, f180, delay)))


def exact_angle_response(
    response: Response, low: float = 1e-3, high: float = 1e3, samples: int = 20_001
) -> RateResponse:
    """As :func:`exact_rate_response`, of an *angle* over command known as a function (of either type)."""
    return exact_rate_response(lambda f: 2j * np.pi * f * response(f), low, high, samples)


def _near(function: Callable[[FloatArray], FloatArray], rough: float, limit: float) -> float:
    """Root of a function of f within 0.1 % of a rough one, not above ``limit``."""
    if not np.isfinite(rough):
        return float("nan")
    return sharpen_root(function, rough * 0.999, min(rough * 1.001, limit))


def _sharp_phase(response: Response, rough: float, level: float) -> float:
    turn = np.exp(-1j * level)
    return _near(lambda f: np.angle(response(f) * turn), rough, float("inf"))


def _delay_near(angle: float, f180: float, rough: float) -> float:
    """Phase delay from the wrapped phase at twice f180, on the turn that the rough one shows."""
    delay = -(angle - _PHASE_90) / (4.0 * np.pi * f180)
    if not np.isfinite(rough):
        return float("nan")
    turn = 1.0 / (2.0 * f180)
    return float(delay + turn * np.rint((rough - delay) / turn))
