"""What a rate controller's settings amount to, and what another set of settings changes in it.

A controller answers two things: the command, and the measured rate that is taken away. What it does to noise
of the gyro, how late it answers and how firm it is are read off the second; the feel of the stick off both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.declared import KnownController

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Hz between which a pilot acts and feels. Common practice, no source.
PILOT_BAND = (0.5, 25.0)
#: Hz from which on what is passed to the motors counts as noise, not as control. Common practice, no source.
NOISE_FROM = 60.0
#: Noise passed at less than this share of the most that is passed anywhere is next to none: a filter's zero
#: at half the loop's rate is no finding. Common practice, no source.
NOTHING = 0.03
#: Changes of less are none: dB, s. Common practice, no source.
SLIGHT, SLIGHT_DELAY = 0.05, 5e-5
#: Points of the grid on which the noise's power is summed.
_POINTS = 8192
_PER_OCTAVE = 48


@dataclass(frozen=True, eq=False)
class Amounts:
    """The responses of one axis' controller.

    Attributes
    ----------
    frequencies
        (nf,) Hz, rising.
    command, rate
        (nf,) drive for the command, and for the rate taken away; drive 1 per rad/s.
    noise
        Standard deviation of the drive for white noise of the rate of 1 rad/s in each root hertz, up to half
        the loop's rate.
    loop_rate
        Hz.
    """

    axis: str
    frequencies: Float
    command: Complex
    rate: Complex
    noise: float
    loop_rate: float
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Largest:
    """The largest difference of a response: dB, and at which frequency, Hz."""

    decibels: float
    frequency: float


@dataclass(frozen=True, slots=True)
class Change:
    """What changes from one controller to another.

    Attributes
    ----------
    at
        Hz, where firmness and delay are compared: the crossover where it is known.
    firmness
        Ratio of the answers to the rate there, after over before.
    delay
        s, by how much later the answer to the rate comes there; negative: sooner.
    command, rate
        Largest difference in the pilot's band, after over before.
    noise
        Ratio of what white gyro noise does to the drive.
    passed
        Where above `NOISE_FROM` most more (or less) is passed, and how much.
    remarks
        What is in neither response, in words.
    """

    axis: str
    at: float
    firmness: float
    delay: float
    command: Largest
    rate: Largest
    noise: float
    passed: Largest
    remarks: tuple[str, ...] = ()

    @property
    def is_none(self) -> bool:
        """Whether nothing changes by `SLIGHT` or `SLIGHT_DELAY`."""
        largest = max(abs(one.decibels) for one in (self.command, self.rate, self.passed))
        ratios = max(abs(20.0 * np.log10(ratio)) for ratio in (self.firmness, self.noise))
        return max(largest, ratios) < SLIGHT and abs(self.delay) < SLIGHT_DELAY


def amounts(controller: KnownController) -> Amounts:
    """Responses from 0.1 Hz to half the loop's rate, 48 to the octave, and the noise passed.

    The noise's standard deviation is the root of the integral of the squared gain over frequency (Parseval).
    """
    half = 0.5 * controller.rate_hz
    octaves = np.log2(half / 0.1)
    frequencies = np.asarray(0.1 * 2.0 ** np.linspace(0.0, octaves, round(octaves * _PER_OCTAVE) + 1))
    frequencies[-1] = half
    command, rate = controller.response(frequencies)
    middles = (np.arange(_POINTS) + 0.5) * (half / _POINTS)
    _, passed = controller.response(middles)
    noise = float(np.sqrt(np.mean(np.abs(passed) ** 2) * half))
    return Amounts(controller.axis, frequencies, command, rate, noise, controller.rate_hz, controller.remarks)


def change(before: KnownController, after: KnownController, *, at: float) -> Change:
    """Compare two controllers of one axis at the scale of their own drives.

    Parameters
    ----------
    at
        Hz, above 0 and below half of both loops' rates.

    Raises
    ------
    ValueError
        For controllers of different axes, a controller that does not answer the rate, or a frequency outside
        of that.
    """
    if before.axis != after.axis:
        raise ValueError(f"controllers of one axis are compared, not {before.axis} with {after.axis}")
    half = 0.5 * min(before.rate_hz, after.rate_hz)
    if not 0.0 < at < half:
        raise ValueError(f"a frequency above 0 and below {half:g} Hz is wanted, not {at:g}")
    noise = amounts(before).noise, amounts(after).noise
    if min(noise) == 0.0:
        raise ValueError(f"a controller that answers the rate is wanted; {before.axis} has no gain")
    pilot = np.geomspace(PILOT_BAND[0], min(PILOT_BAND[1], half), 400)
    noisy = np.linspace(min(NOISE_FROM, half), half, 800)
    was, now = before.response(pilot), after.response(pilot)
    there = after.response([at])[1][0] / before.response([at])[1][0]
    turned = _turned(before, after, at)
    return Change(
        before.axis,
        at,
        float(np.abs(there)),
        -turned / (2.0 * np.pi * at),
        _largest(pilot, was[0], now[0]),
        _largest(pilot, was[1], now[1]),
        noise[1] / noise[0],
        _largest(noisy, before.response(noisy)[1], after.response(noisy)[1], NOTHING),
        tuple(dict.fromkeys((*before.remarks, *after.remarks))),
    )


def _turned(before: KnownController, after: KnownController, at: float) -> float:
    """Rad by which the answer to the rate is ahead at a frequency, followed up from low ones."""
    grid = np.append(np.geomspace(0.01 * at, at, 400)[:-1], at)
    ratio = after.response(grid)[1] / before.response(grid)[1]
    return float(np.unwrap(np.angle(ratio))[-1])


def _largest(frequencies: Float, before: Complex, after: Complex, nothing: float = 1e-12) -> Largest:
    """Where the gains differ most; a gain below that share of the greatest counts as that share."""
    floor = nothing * max(float(np.max(np.abs(before))), float(np.max(np.abs(after))), 1e-300)
    ratio = 20 * np.log10(np.maximum(np.abs(after), floor) / np.maximum(np.abs(before), floor))
    place = int(np.argmax(np.abs(ratio)))
    return Largest(float(ratio[place]), float(frequencies[place]))
