"""Digital filters as they are met in flight-control loops: coefficients, frequency response, delay.

Sources: W3C Working Group Note "Audio EQ Cookbook", 8 June 2021 (existence read, formulas from memory) for
the biquads; the one-pole rules by hand. The cookbook's notch is not that of scipy.signal.iirnotch: sin(w0) /
2Q here, tan(w0 / 2Q) there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex128]

BUTTERWORTH_Q = math.sqrt(0.5)


@dataclass(frozen=True, slots=True)
class Block:
    """One discrete-time block ``(b0 + b1 z^-1 + …) / (a0 + a1 z^-1 + …)``, and a delay.

    Attributes
    ----------
    b, a
        Coefficients, normalised so that ``a[0]`` is 1.
    delay
        Further delay in samples, whole or not.
    """

    b: tuple[float, ...]
    a: tuple[float, ...] = (1.0,)
    delay: float = 0.0


class OnePoleRule(StrEnum):
    """How the factor of ``y += a (x - y)`` is reached from a cut-off frequency."""

    BACKWARD = "backward"  # a = dt / (dt + 1 / (2 pi fc)): the usual one, falls 3 dB before fc
    IMPULSE = "impulse"  # a = 1 - exp(-2 pi fc dt)
    EXACT = "exact"  # falls by half the power exactly at fc


def _inside(frequency_hz: float, rate_hz: float, q: float = 1.0) -> float:
    """Angle 2 pi f / rate of a frequency between zero and half the rate."""
    if not 0.0 < frequency_hz < 0.5 * rate_hz or not q > 0.0:
        raise ValueError(
            f"frequency above 0 and below {0.5 * rate_hz:g} Hz, Q above 0, got {frequency_hz} {q}"
        )
    return 2.0 * math.pi * frequency_hz / rate_hz


def low_pass(cutoff_hz: float, rate_hz: float, q: float = BUTTERWORTH_Q) -> Block:
    """Cookbook second-order low-pass; with the default Q the Butterworth, -3.01 dB at the cut-off."""
    w0 = _inside(cutoff_hz, rate_hz, q)
    alpha, c = math.sin(w0) / (2.0 * q), math.cos(w0)
    a0 = 1.0 + alpha
    side = 0.5 * (1.0 - c) / a0
    return Block((side, 2.0 * side, side), (1.0, -2.0 * c / a0, (1.0 - alpha) / a0))


def notch(centre_hz: float, rate_hz: float, q: float) -> Block:
    """Cookbook notch: nothing passes at the centre; Q is about centre over width at -3 dB."""
    w0 = _inside(centre_hz, rate_hz, q)
    alpha, c = math.sin(w0) / (2.0 * q), math.cos(w0)
    a0 = 1.0 + alpha
    middle = -2.0 * c / a0
    return Block((1.0 / a0, middle, 1.0 / a0), (1.0, middle, (1.0 - alpha) / a0))


def one_pole_factor(
    cutoff_hz: float, rate_hz: float, rule: OnePoleRule | str = OnePoleRule.BACKWARD
) -> float:
    """Factor a of ``y += a (x - y)`` for a cut-off frequency; see `OnePoleRule`."""
    w0 = _inside(cutoff_hz, rate_hz)
    rule = OnePoleRule(rule)
    if rule is OnePoleRule.BACKWARD:
        return w0 / (w0 + 1.0)
    if rule is OnePoleRule.IMPULSE:
        return -math.expm1(-w0)
    short = 2.0 * math.sin(0.5 * w0) ** 2  # 1 - cos w0
    return -short + math.sqrt(short * short + 2.0 * short)


def one_pole(cutoff_hz: float, rate_hz: float, rule: OnePoleRule | str = OnePoleRule.BACKWARD) -> Block:
    """First-order low-pass ``y += a (x - y)``."""
    factor = one_pole_factor(cutoff_hz, rate_hz, rule)
    return Block((factor,), (1.0, factor - 1.0))


def one_pole_half_power(factor: float, rate_hz: float) -> float:
    """True -3.01 dB frequency, Hz, of ``y += a (x - y)``; NaN where it never falls so far (a > 0.828)."""
    keep = 1.0 - factor
    cosine = (1.0 + keep * keep - 2.0 * factor * factor) / (2.0 * keep) if keep > 0.0 else -2.0
    return math.acos(cosine) * rate_hz / (2.0 * math.pi) if abs(cosine) <= 1.0 else math.nan


def one_pole_rest_delay(factor: float) -> float:
    """Delay of ``y += a (x - y)`` for slow signals, samples: (1 - a) / a."""
    return (1.0 - factor) / factor


def cascade_factor(stages: int) -> float:
    """How much faster each of n equal one-pole stages must be for the cascade to be -3 dB at the cut-off."""
    return 1.0 / math.sqrt(2.0 ** (1.0 / stages) - 1.0)


def prewarped(frequency_hz: float, rate_hz: float) -> float:
    """Analogue frequency, rad/s, that the bilinear rule puts at a digital one: 2 rate tan(pi f / rate)."""
    return 2.0 * rate_hz * math.tan(0.5 * _inside(frequency_hz, rate_hz))


def unwarped(frequency_hz: float, rate_hz: float) -> float:
    """Digital frequency, Hz, where the bilinear rule puts an analogue one that was not prewarped."""
    return rate_hz / math.pi * math.atan(math.pi * frequency_hz / rate_hz)


def delay_samples(samples: float) -> Block:
    """A delay, in samples, whole or not."""
    return Block((1.0,), delay=samples)


def integrator(rate_hz: float, rule: str = "backward") -> Block:
    """Running sum in s: ``backward`` (the new sample counts), ``forward`` (not yet), ``trapezoid``."""
    b = {"backward": (1.0, 0.0), "forward": (0.0, 1.0), "trapezoid": (0.5, 0.5)}[rule]
    return Block((b[0] / rate_hz, b[1] / rate_hz), (1.0, -1.0))


def derivative(rate_hz: float) -> Block:
    """Difference of successive samples, per second."""
    return Block((rate_hz, -rate_hz))


def _polynomial(coefficients: Sequence[float], turn: ComplexArray) -> ComplexArray:
    value = np.zeros_like(turn)
    for coefficient in reversed(coefficients):
        value = value * turn + coefficient
    return value


def cascade_response(blocks: Sequence[Block], frequencies: npt.ArrayLike, rate_hz: float) -> ComplexArray:
    """Frequency response ``(nf,)`` of blocks in a row at frequencies ``(nf,)`` in Hz and a rate in Hz."""
    angle = 2.0 * np.pi / rate_hz * np.asarray(frequencies, dtype=np.float64)
    turn = np.exp(-1j * angle)
    response = np.ones_like(turn)
    with np.errstate(divide="ignore", invalid="ignore"):
        for block in blocks:
            response = response * _polynomial(block.b, turn) / _polynomial(block.a, turn)
            if block.delay:
                response = response * np.exp(-1j * block.delay * angle)
    return np.asarray(response)


def group_delay(blocks: Sequence[Block], frequencies: npt.ArrayLike, rate_hz: float) -> FloatArray:
    """Group delay ``(nf,)`` of blocks in a row, in samples; divide by the rate for seconds.

    Notes
    -----
    Of ``sum c_n z^-n`` it is the real part of ``sum n c_n z^-n / sum c_n z^-n``; NaN where a block lets
    nothing pass or has a pole.
    """
    turn = np.exp(-2j * np.pi / rate_hz * np.asarray(frequencies, dtype=np.float64))
    delay = np.zeros(turn.shape)
    with np.errstate(divide="ignore", invalid="ignore"):
        for block in blocks:
            delay += block.delay + _delay_of(block.b, turn) - _delay_of(block.a, turn)
    return np.where(np.isfinite(delay), delay, np.nan)


def _delay_of(coefficients: Sequence[float], turn: ComplexArray) -> FloatArray:
    ramped = [n * coefficient for n, coefficient in enumerate(coefficients)]
    return np.real(_polynomial(ramped, turn) / _polynomial(coefficients, turn))


def _hold_response(frequencies: npt.ArrayLike, rate_hz: float) -> ComplexArray:
    """Of a value held for a sample: (1 - exp(-sT)) / (sT), half a sample late."""
    share = np.asarray(frequencies, dtype=np.float64) / rate_hz
    return np.asarray(np.sinc(share) * np.exp(-1j * np.pi * share))


def _one_pole_block(
    rate_hz: float, *, cutoff_hz: float, rule: str = "backward", stages: float = 1
) -> list[Block]:
    return [one_pole(cutoff_hz, rate_hz, rule)] * int(stages)


def _low_pass_block(rate_hz: float, *, cutoff_hz: float, q: float = BUTTERWORTH_Q) -> list[Block]:
    return [low_pass(cutoff_hz, rate_hz, q)]


def _notch_block(rate_hz: float, *, centre_hz: float, q: float) -> list[Block]:
    return [notch(centre_hz, rate_hz, q)]


def _delay_block(rate_hz: float, *, seconds: float) -> list[Block]:
    return [delay_samples(seconds * rate_hz)]


def _integrator_block(rate_hz: float, *, rule: str = "backward") -> list[Block]:
    return [integrator(rate_hz, rule)]


def _derivative_block(rate_hz: float) -> list[Block]:
    return [derivative(rate_hz)]


#: Kinds of blocks that :func:`frequency_response` knows, each with the parameters of its function.
KINDS: dict[str, Callable[..., list[Block]]] = {
    "one pole": _one_pole_block,
    "low-pass": _low_pass_block,
    "notch": _notch_block,
    "delay": _delay_block,
    "integrator": _integrator_block,
    "derivative": _derivative_block,
}


def frequency_response(
    kind: str, frequencies: npt.ArrayLike, rate_hz: float, **parameters: float | str
) -> ComplexArray:
    """Frequency response of one block of a controller, run at a loop rate.

    Parameters
    ----------
    kind
        ``one pole`` (cutoff_hz, rule, stages), ``low-pass`` (cutoff_hz, q), ``notch`` (centre_hz, q),
        ``delay`` (seconds), ``integrator`` (rule), ``derivative``, or ``hold`` (a value held for one sample).
    frequencies
        ``(nf,)`` Hz.
    rate_hz
        Rate at which the block runs.
    **parameters
        Of the kind.

    Returns
    -------
    ndarray
        ``(nf,)`` complex.

    Raises
    ------
    ValueError
        When there is no such kind, or a frequency lies outside zero to half the rate.

    Examples
    --------
    >>> abs(frequency_response("low-pass", [100.0], 8000.0, cutoff_hz=100.0)).round(6).tolist()
    [0.707107]
    """
    if kind == "hold":
        return _hold_response(frequencies, rate_hz)
    if kind not in KINDS:
        raise ValueError(f"no block is called {kind!r}; there are {', '.join([*KINDS, 'hold'])}")
    return cascade_response(KINDS[kind](rate_hz, **parameters), frequencies, rate_hz)
