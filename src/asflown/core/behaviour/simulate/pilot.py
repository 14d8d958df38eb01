"""What the pilot does: rate (or stick) commands and throttle, random from a seed, or planned excitations."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]


class Activity(StrEnum):
    """How hard the pilot flies."""

    STILL = "still"
    LOW = "low"
    NORMAL = "normal"
    HIGH = "high"


@dataclass(frozen=True, eq=False)
class Commands:
    """Commands over time.

    Attributes
    ----------
    rate
        Rows a second, a whole part of the loop rate; read linearly in between.
    values
        (n, 4): roll, pitch, yaw in rad/s (stick -1 to 1 where levelled), throttle 0 to 1 at the reference
        voltage.
    """

    rate: float
    values: FloatArray


@dataclass(frozen=True, slots=True)
class _Hand:
    """How a hand moves, by activity: rad/s rms of each kind, events a second, throttle."""

    noise: float
    steps: float
    step_rate: float
    flips: float
    flip_rate: float
    throttle: float
    punches: float


_HANDS = {
    Activity.STILL: _Hand(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    Activity.LOW: _Hand(0.28, 0.85, 0.3, 0.0, 0.0, 0.03, 0.0),
    Activity.NORMAL: _Hand(0.85, 3.2, 0.6, 0.0, 0.0, 0.06, 0.04),
    Activity.HIGH: _Hand(1.6, 5.5, 0.9, 10.5, 0.14, 0.10, 0.18),
}
_GRID = 250.0


def _shaped(random: np.random.Generator, count: int, corner: float, order: int) -> FloatArray:
    """Noise of unit variance whose power falls as ``f^(-2 order)`` above ``corner`` Hz."""
    size = 1 << (count - 1).bit_length()
    spectrum = np.fft.rfft(random.standard_normal(size))
    frequency = np.fft.rfftfreq(size, 1.0 / _GRID)
    power = 1.0 / (1.0 + (frequency / corner) ** 2) ** order
    power[0] = 0.0
    noise = np.fft.irfft(spectrum * np.sqrt(power), size)[:count]
    return np.asarray(noise / math.sqrt(2.0 * power.sum() / size), dtype=np.float64)


def _envelope(random: np.random.Generator, count: int) -> FloatArray:
    """Slow rise and fall of the activity between pauses and haste, mean square about one."""
    slow = _shaped(random, count, 0.08, 2)
    level = np.clip(1.0 + 0.6 * slow, 0.0, 2.0)
    return np.asarray(level / math.sqrt(1.33), dtype=np.float64)


def _ease(part: FloatArray) -> FloatArray:
    """From 0 to 1 with the least jerk (fifth-order polynomial)."""
    held = np.clip(part, 0.0, 1.0)
    return np.asarray(held**3 * (10.0 + held * (6.0 * held - 15.0)), dtype=np.float64)


def _events(random: np.random.Generator, out: FloatArray, every: float, size: float) -> None:
    """Add shaped steps and doublets at random moments, in place."""
    if every <= 0.0 or size <= 0.0:
        return
    for moment in np.sort(random.uniform(0.0, out.size / _GRID, random.poisson(every * out.size / _GRID))):
        rise, hold = random.uniform(0.06, 0.2), random.uniform(0.03, 0.5)
        height = size * random.choice((-1.0, 1.0)) * random.uniform(0.35, 1.3)
        _pulse(out, moment, rise, hold, height)
        if random.random() < 0.45:
            _pulse(out, moment + rise + hold, rise, hold, -height * random.uniform(0.6, 1.1))


def _pulse(out: FloatArray, moment: float, rise: float, hold: float, height: float) -> None:
    first = int(moment * _GRID)
    last = min(out.size, int((moment + 2.0 * rise + hold) * _GRID) + 2)
    if first >= last:
        return
    time = np.arange(first, last) / _GRID - moment
    out[first:last] += height * (_ease(time / rise) - _ease((time - rise - hold) / rise))


def _flips(random: np.random.Generator, out: FloatArray, every: float, speed: float) -> None:
    """Add whole turns."""
    if every <= 0.0 or speed <= 0.0:
        return
    for moment in random.uniform(0.0, out.size / _GRID, random.poisson(every * out.size / _GRID)):
        height = speed * random.uniform(0.8, 1.15) * random.choice((-1.0, 1.0))
        rise = random.uniform(0.10, 0.16)
        _pulse(out, moment, rise, max(0.02, 2.0 * math.pi / abs(height) - rise), height)


def _axis(random: np.random.Generator, hand: _Hand, count: int, share: float, flips: bool) -> FloatArray:
    out = np.zeros(count)
    if hand.noise > 0.0:
        out += hand.noise * _envelope(random, count) * _shaped(random, count, 3.2, 3)
    _events(random, out, hand.step_rate, hand.steps)
    if flips:
        _flips(random, out, hand.flip_rate, hand.flips)
    return np.asarray(share * out, dtype=np.float64)


def _throttle(random: np.random.Generator, hand: _Hand, count: int, hover: float) -> FloatArray:
    out = np.full(count, hover)
    if hand.throttle > 0.0:
        out *= 1.0 + hand.throttle * 2.0 * _shaped(random, count, 0.3, 2)
    if hand.punches > 0.0:
        for moment in random.uniform(0.0, count / _GRID, random.poisson(hand.punches * count / _GRID)):
            height = random.uniform(0.15, 0.45)
            _pulse(out, moment, random.uniform(0.15, 0.3), random.uniform(0.1, 0.6), height)
            _pulse(out, moment + 1.2, 0.25, random.uniform(0.1, 0.5), -0.4 * hover * random.uniform(0.2, 1.0))
    return np.asarray(np.clip(out, 0.4 * hover, 0.95), dtype=np.float64)


def fly_freely(
    random: np.random.Generator,
    seconds: float,
    activity: Activity = Activity.NORMAL,
    *,
    hover: float = 0.35,
    sticks: bool = False,
    limit: float = 14.0,
) -> Commands:
    """Random flying: band-limited noise of the hand, shaped steps, doublets, whole turns, throttle, pauses.

    The three axes are independent of each other. Power falls steeply above 3 to 5 Hz. Rates of about 20,
    100 and 220 deg/s rms on roll and pitch at low, normal and high activity; yaw half of it.

    Parameters
    ----------
    hover
        Throttle in hover at the reference voltage.
    sticks
        Stick values (-1 to 1) for a levelled controller instead of rad/s.
    limit
        rad/s, largest command.
    """
    hand, count = _HANDS[activity], math.ceil(seconds * _GRID) + 2
    columns = []
    for number in range(3):
        share = 0.5 if number == 2 else 1.0
        column = _axis(random, hand, count, share, flips=number < 2)
        if sticks and number < 2:
            column = np.clip(column / 4.0, -1.0, 1.0)
        columns.append(np.clip(column, -limit, limit))
    columns.append(_throttle(random, hand, count, hover))
    return Commands(_GRID, np.column_stack(columns))


def multisine(
    frequencies: tuple[FloatArray, FloatArray, FloatArray],
    amplitude: float,
    seconds: float,
    *,
    rate: float,
    hover: float = 0.35,
) -> Commands:
    """Sums of sines, one set of frequencies (Hz) an axis, phases after Schroeder, equal amplitudes in rad/s.

    Keep the three sets apart and every frequency a whole number of periods of the part that is analysed.
    """
    time = np.arange(math.ceil(seconds * rate) + 2) / rate
    values = np.zeros((time.size, 4))
    for number, lines in enumerate(frequencies):
        for place, frequency in enumerate(lines):
            phase = -math.pi * place * (place + 1) / max(len(lines), 1)
            values[:, number] += amplitude * np.sin(2.0 * math.pi * frequency * time + phase)
    values[:, 3] = hover
    return Commands(rate, values)


def sweep(
    axis: int,
    low: float,
    high: float,
    amplitude: float,
    seconds: float,
    *,
    rate: float = 1000.0,
    hover: float = 0.35,
) -> Commands:
    """Logarithmic frequency sweep on one axis from ``low`` to ``high`` Hz, eased in and out over a second."""
    time = np.arange(math.ceil(seconds * rate) + 2) / rate
    grow = math.log(high / low) / seconds
    phase = 2.0 * math.pi * low * np.expm1(grow * time) / grow
    values = np.zeros((time.size, 4))
    values[:, axis] = amplitude * np.sin(phase) * _ease(time) * _ease(seconds - time)
    values[:, 3] = hover
    return Commands(rate, values)
