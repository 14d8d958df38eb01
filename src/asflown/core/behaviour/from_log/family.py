"""The family of rate controllers that a log is read with, and its responses.

``u = Kp (Fr r - Fy y) + Ki integral(Fr r - Fy y) - Kd s Fd Fy y + Kff s Fr r`` with ``r`` the commanded and
``y`` the measured rate, a delay on each of them, and low-passes of first or second order ``Fr``, ``Fy`` and
``Fd``. Textbook form: Astrom & Murray, *Feedback Systems* (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from itertools import product

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Signals of the equation, in the order of its coefficients: output, measured rate with its integral and its
#: derivative, commanded rate with its integral and its derivative.
SIGNALS = ("u", "y", "y integral", "y derivative", "r", "r integral", "r derivative")
#: Numbers of a controller: gains in s/rad, 1/rad, s2/rad, s2/rad; logarithms of cut-offs in Hz; delays in s.
NUMBERS = ("kp", "ki", "kd", "kf", "log_rate", "log_derivative", "log_command", "rate_delay", "command_delay")
GAINS = 4
#: What is held likely of filters and delays before looking: centre and spread. Common practice, no source.
CENTRE = np.array([0.0, 0.0, 0.0, 0.0, np.log(120.0), np.log(90.0), np.log(60.0), 3e-4, 3e-4])
SPREAD = np.array([np.inf, np.inf, np.inf, np.inf, 1.0, 1.0, 1.0, 1.5e-3, 1.5e-3])


#: How much faster each of two equal poles must be for both to have their half power at a cut-off.
_EACH = float(1.0 / np.sqrt(np.sqrt(2.0) - 1.0))


class Order(IntEnum):
    """A low-pass: none, one pole, two poles (Butterworth), or one pole twice in a row."""

    NONE = 0
    FIRST = 1
    SECOND = 2
    TWICE = 3


#: Highest cut-off, as a share of the loop's rate.
HIGHEST_SHARE = 0.45
#: What a filter of the command may be.
COMMANDS = (Order.NONE, Order.FIRST, Order.SECOND)


@dataclass(frozen=True, slots=True)
class Variant:
    """One member of the family.

    Attributes
    ----------
    rate, derivative, command
        Order of ``Fy``, ``Fd`` and ``Fr``; ``None``: there is no derivative term.
    commanded
        Whether the command moved, so that its terms are in the equation.
    """

    rate: Order
    derivative: Order | None
    command: Order = Order.NONE
    commanded: bool = True

    @property
    def free(self) -> tuple[int, ...]:
        """Places in `NUMBERS` of what is fitted."""
        wanted = [
            True,
            True,
            self.derivative is not None,
            self.commanded,
            self.rate > 0,
            bool(self.derivative),
            self.commanded and self.command > 0,
            True,
            self.commanded,
        ]
        return tuple(place for place, one in enumerate(wanted) if one)


def variants(commanded: bool) -> tuple[Variant, ...]:
    """Every member that is tried.

    Parameters
    ----------
    commanded
        Whether the command moved.
    """
    commands = COMMANDS if commanded else (Order.NONE,)
    return tuple(
        Variant(rate, derivative, command, commanded)
        for rate, derivative, command in product(Order, (None, *Order), commands)
    )


def low_pass(order: Order, cutoff: Float, frequencies: Float, loop_rate: float | None) -> Complex:
    """Response (..., nf) of a low-pass with its half-power frequency at a cut-off.

    Parameters
    ----------
    cutoff
        (...) Hz; of a loop it counts up to `HIGHEST_SHARE` of its rate.
    loop_rate
        Hz at which it runs; ``None``: so fast that the analogue form stands for it.
    """
    if order is Order.NONE:
        return np.ones((*cutoff.shape, frequencies.size), dtype=np.complex128)
    if loop_rate is None:
        if order is Order.TWICE:
            once = low_pass(Order.FIRST, cutoff * _EACH, frequencies, None)
            return np.asarray(once * once)
        s = np.asarray(1j * frequencies / cutoff[..., None], dtype=np.complex128)
        return np.asarray(1 / (1 + s)) if order is Order.FIRST else _butterworth(s)
    return _digital(order, np.minimum(cutoff, HIGHEST_SHARE * loop_rate)[..., None], frequencies, loop_rate)


def _butterworth(s: Complex) -> Complex:
    return np.asarray(1 / (1 + np.sqrt(2.0) * s + s * s))


def _digital(order: Order, cutoff: Float, frequencies: Float, loop_rate: float) -> Complex:
    """``y += a (x - y)``, once or twice, with its half power at the cut-off, and the bilinear Butterworth."""
    if order is Order.SECOND:
        tangent = np.tan(np.pi * frequencies / loop_rate)
        return _butterworth(1j * tangent / np.tan(np.pi * cutoff / loop_rate))
    # |a / (1 - (1 - a) / z)|^2 = 1/2 or, twice in a row, 1/sqrt(2), solved for what stays of the last output
    each = 0.5 if order is Order.FIRST else np.sqrt(0.5)
    level = (1.0 - each * np.cos(2 * np.pi * cutoff / loop_rate)) / (1.0 - each)
    stays = level - np.sqrt(level * level - 1.0)
    once = (1.0 - stays) / (1.0 - stays * np.exp(-2j * np.pi * frequencies / loop_rate))
    return np.asarray(once if order is Order.FIRST else once * once)


def terms(
    variant: Variant, numbers: Float, frequencies: Float, loop_rate: float | None = None
) -> tuple[Complex, Complex, Complex]:
    """What the filters and delays make of the rate, of its derivative and of the command, (..., nf) each."""
    s = 2j * np.pi * frequencies
    cutoffs = np.exp(numbers[..., 4:7])
    for_rate = low_pass(variant.rate, cutoffs[..., 0], frequencies, loop_rate)
    for_rate = for_rate * np.exp(-s * numbers[..., 7, None])
    order = Order.NONE if variant.derivative is None else variant.derivative
    for_derivative = for_rate * low_pass(order, cutoffs[..., 1], frequencies, loop_rate)
    for_command = low_pass(variant.command, cutoffs[..., 2], frequencies, loop_rate)
    return for_rate, for_derivative, for_command * np.exp(-s * numbers[..., 8, None])


def steps_of(frequencies: Float, loop_rate: float | None) -> tuple[Complex, Complex]:
    """The loop's integral and derivative over the true ones, (nf,): running sum and difference."""
    if loop_rate is None:
        one = np.ones(frequencies.shape, dtype=np.complex128)
        return one, one
    s = 2j * np.pi * frequencies
    difference = (1 - np.exp(-s / loop_rate)) * loop_rate
    return np.asarray(s / difference), np.asarray(difference / s)


def coefficients(
    variant: Variant, numbers: Float, frequencies: Float, loop_rate: float | None = None
) -> Complex:
    """Coefficients (..., nf, 7) of `SIGNALS` whose sum is 0 where the controller is the one that ran.

    Parameters
    ----------
    numbers
        (..., 9) see `NUMBERS`.
    frequencies
        (nf,) Hz, above 0.
    """
    for_rate, for_derivative, for_command = terms(variant, numbers, frequencies, loop_rate)
    sums, differences = steps_of(frequencies, loop_rate)
    kp, ki, kd, kf = (numbers[..., place, None] for place in range(GAINS))
    made = np.zeros((*numbers.shape[:-1], frequencies.size, len(SIGNALS)), dtype=np.complex128)
    made[..., 0] = 1.0
    made[..., 1], made[..., 2] = kp * for_rate, ki * sums * for_rate
    made[..., 3] = kd * differences * for_derivative
    if variant.commanded:
        made[..., 4], made[..., 5] = -kp * for_command, -ki * sums * for_command
        made[..., 6] = -kf * differences * for_command
    return made


def responses(
    variant: Variant, numbers: Float, frequencies: Float, loop_rate: float | None = None
) -> tuple[Complex, Complex]:
    """Responses (..., nf) for the command, and for the rate taken away, s; frequencies in Hz, above 0."""
    made = coefficients(variant, numbers, frequencies, loop_rate)
    s = 2j * np.pi * frequencies
    for_rate = made[..., 1] + made[..., 2] / s + made[..., 3] * s
    for_command = -(made[..., 4] + made[..., 5] / s + made[..., 6] * s)
    return np.asarray(for_command), np.asarray(for_rate)
