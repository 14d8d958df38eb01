"""How far each frequency of a rate stands out of a healthy flight, frame by frame.

Power over the healthy flight's median at each frequency, less the mean of the neighbouring frequencies in
dB (hard flying raises all of them together).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.signal.aliasing import folded
from asflown.core.signal.decimate import REACH, decimate
from asflown.core.vibration.frames import frames_of, good_length

FloatArray = npt.NDArray[np.float64]
Float32 = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.floating]

#: Orders of the rotors that are looked out for.
ORDERS = (1.0, 2.0, 3.0)
_SLOW = 300.0  # Hz: the least rate worked at


@dataclass(frozen=True, slots=True)
class Detector:
    """How the oscillation is looked for; the defaults were chosen on other seeds than they are counted on.

    Attributes
    ----------
    frame, hop
        s.
    low, high
        Hz, looked at.
    around
        Hz, to either side, whose mean is taken off.
    stands_out
        dB by which a frequency has to stand out.
    slow, slow_more
        Hz below which a frequency has to stand out by so many dB more: there hard flying looks like it.
    line_less
        dB by which it may stand out less above the rotors' lines (all in step) than above the floor.
    frames
        In how many frames in a row.
    wander
        Hz the frequency may move meanwhile.
    least
        rad/s rms of the oscillation.
    beside_rotor
        Hz to either side of a rotor's order where its line is expected.
    """

    frame: float = 0.5
    hop: float = 0.0625
    low: float = 12.0
    high: float = 120.0
    around: float = 20.0
    stands_out: float = 13.0
    slow: float = 20.0
    slow_more: float = 5.0
    line_less: float = 6.0
    frames: int = 7
    wander: float = 3.0
    least: float = math.radians(0.5)
    beside_rotor: float = 8.0


@dataclass(frozen=True, eq=False)
class LimitCycleBaseline:
    """A healthy flight, by frequency.

    Attributes
    ----------
    frequency
        (nf,) Hz.
    density
        (nf,) (rad/s)²/Hz, median of the frames.
    orders
        (orders,) (rad/s)²/Hz that a line of rotor order 1, 2 and 3 reaches at ``speed``: what is seen at a
        rotor's frequency has to stand out above that too. Empty without speed telemetry.
    speed
        rev/s.
    """

    frequency: FloatArray
    density: FloatArray
    orders: FloatArray
    speed: float
    rate_hz: float
    seconds: float
    detector: Detector


@dataclass(frozen=True, eq=False)
class Levels:
    """Smoothed power of the frames of a signal.

    Attributes
    ----------
    power
        (frames, nf) unit²/Hz, mean of three bins, float32.
    first
        s from the signal's start to the first frame's.
    frame, hop
        s, exactly.
    rate_hz
        Of the signal as logged.
    """

    power: Float32
    frequency: FloatArray
    first: float
    frame: float
    hop: float
    rate_hz: float

    @property
    def width(self) -> float:
        """Hz between bins."""
        return float(self.frequency[1])

    @property
    def starts(self) -> FloatArray:
        """(frames,) s."""
        return np.asarray(self.first + self.hop * np.arange(self.power.shape[0], dtype=np.float64))

    def rms(self, power: Numbers) -> FloatArray:
        """Of a line that has this power: three bins hold a Hann window's line."""
        return np.asarray(np.sqrt(3.0 * self.width * np.asarray(power, dtype=np.float64)))


def grid_of(rate_hz: float, how: Detector) -> tuple[int, int]:
    """By how much a log is decimated, and samples of the decimated signal from one frame to the next."""
    factor = max(1, int(rate_hz / _SLOW))
    return factor, max(1, round(how.hop * rate_hz / factor))


def levels_of(values: Numbers, rate_hz: float, how: Detector, every: int = 1) -> Levels:
    """Frames of a rate (each, or every so many), decimated first where it is faster than needed."""
    signal = np.asarray(values, dtype=np.float32)
    factor, hop = grid_of(rate_hz, how)
    hop *= every
    first = 0.0
    if factor > 1:
        signal = decimate(signal, factor).astype(np.float32, copy=False)
        first = REACH * factor / rate_hz
    slow = rate_hz / factor
    length = good_length(how.frame, slow)
    frames = frames_of(signal[None, None], slow, length, hop)
    shown = frames.frequency <= min(how.high + how.around, 0.4 * slow if factor > 1 else 0.5 * slow)
    power = _three(frames.power[0])[:, shown]
    return Levels(power, frames.frequency[shown], first, length / slow, hop / slow, rate_hz)


def _three(power: Float32) -> Float32:
    """Means of three neighbouring bins: what a Hann window makes of a line."""
    out = power.copy()
    out[:, 1:-1] += power[:, :-2]
    out[:, 1:-1] += power[:, 2:]
    out[:, 1:-1] *= np.float32(1.0 / 3.0)
    return out


def heights(levels: Levels, baseline: LimitCycleBaseline) -> Float32:
    """How far each frequency stands out (frames, nf), dB; rotor lines not yet looked out for.

    Minus infinity at frequencies that are not looked at and where the oscillation would be too small to
    matter.
    """
    how = baseline.detector
    healthy = np.interp(levels.frequency, baseline.frequency, baseline.density)
    over = levels.power * (1.0 / healthy).astype(np.float32)
    height = np.log10(np.maximum(over, np.float32(1e-12)))
    height *= np.float32(10.0)
    height -= np.maximum(_beside(height, levels.width, how), 0.0)
    height -= np.where(levels.frequency < how.slow, np.float32(how.slow_more), np.float32(0.0))
    out = (levels.frequency < how.low) | (levels.frequency > min(how.high, 0.45 * levels.rate_hz))
    height[:, out] = -np.inf
    height[levels.power < how.least**2 / (3.0 * levels.width)] = -np.inf
    return np.asarray(height)


def _beside(height: Float32, width: float, how: Detector) -> Float32:
    """Mean height of the neighbours (frames, nf), the frequency's own line left out."""
    wide, own = round(how.around / width), max(2, round(4.0 / width))
    padded = np.pad(height, ((0, 0), (wide + 1, wide)), mode="reflect")
    total = np.cumsum(padded, axis=1, dtype=np.float32)
    count = height.shape[1]
    inner = wide - own
    out = total[:, 2 * wide + 1 :] - total[:, :count]
    out -= total[:, 2 * wide + 1 - inner : 2 * wide + 1 - inner + count]
    out += total[:, inner : inner + count]
    out *= np.float32(0.5 / inner)
    return np.asarray(out)


def rotor_lines(
    levels: Levels, rows: npt.NDArray[np.int64], speed: Numbers, baseline: LimitCycleBaseline
) -> Float32:
    """Power (rows, nf) a healthy flight's rotor lines reach where they lie in some frames; 0 elsewhere."""
    how = baseline.detector
    out = np.zeros((rows.size, levels.frequency.size), dtype=np.float32)
    starts = levels.starts[rows]
    for part in np.linspace(0.0, levels.frame, 5):
        place = np.minimum(((starts + part) * levels.rate_hz).astype(np.int64), speed.shape[1] - 1)
        now = speed[:, place].astype(np.float64)
        for order, height in zip(ORDERS, baseline.orders, strict=True):
            if height <= 0.0:
                continue
            seen = folded(order * now, levels.rate_hz)
            level = (height * (now / baseline.speed) ** 4).astype(np.float32)
            for rotor in range(speed.shape[0]):
                there = np.abs(levels.frequency[None, :] - seen[rotor][:, None]) < how.beside_rotor
                np.maximum(out, there * level[rotor][:, None], out=out)
    return out


def held_out(height: Float32, width: float, how: Detector) -> Float32:
    """Least height (frames, nf) over the last frames, each the greatest within the wander."""
    near = int(how.wander / width)
    wide = height.copy()
    for step in range(1, near + 1):
        np.maximum(wide[:, step:], height[:, :-step], out=wide[:, step:])
        np.maximum(wide[:, :-step], height[:, step:], out=wide[:, :-step])
    held = np.full_like(height, -np.inf)
    last = how.frames - 1
    if height.shape[0] > last:
        held[last:] = wide[last:]
        for back in range(1, how.frames):
            np.minimum(held[last:], wide[last - back : -back], out=held[last:])
    return held
