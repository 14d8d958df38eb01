"""Narrow-band oscillation of a rate that grows: a limit cycle of the rate loop, told against a healthy baseline.

Power in short frames over the healthy flight's median at each frequency, less the median of the neighbouring
frequencies (hard flying raises all of them together), has to stand out by so many dB at one frequency for several
frames in a row. Frequencies where the rotors' orders lie, folded or not, are left out frame by frame.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.frames import Frames, frames_of, good_length
from asflown.core.vibration.levels import line_of
from asflown.core.vibration.orders import folded
from asflown.core.vibration.result import FROM_TELEMETRY
from asflown.core.vibration.stretches import cut_stretches
from asflown.core.vibration.telemetry import mended_speed
from asflown.errors import InputError

FloatArray = npt.NDArray[np.float64]
Float32 = npt.NDArray[np.float32]

#: Orders of the rotors that are looked out for.
ORDERS = (1.0, 2.0, 3.0)
_LINES_FROM = 48.0  # s of the baseline flight that the rotor lines are measured on

NOT_COVERED = (
    "not covered: oscillation slower than {low:g} Hz (there it looks like the pilot's own flying) or faster than {high:g} Hz, "
    "at the rotors' own frequencies, or already there in the baseline flight"
)


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
        Hz, to either side, whose median is taken off.
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
        Hz left out to either side of the rotors' orders.
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
        (orders,) (rad/s)²/Hz that a line of rotor order 1, 2 and 3 reaches at ``speed``: what is seen at a rotor's
        frequency has to stand out above that too. Empty without speed telemetry.
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


@dataclass(frozen=True, slots=True)
class LimitCycle:
    """One stretch of oscillation.

    Attributes
    ----------
    start, end
        s from the start of the signal: first frame's start to last frame's end.
    told_at
        s, the moment from which it could be told.
    frequency
        Hz, where it was strongest.
    rms
        rad/s, greatest of a frame.
    growth_db
        dB, the greatest rms over that of the healthy flight in the same band.
    """

    start: float
    end: float
    told_at: float
    frequency: float
    rms: float
    growth_db: float
    statement: str


def limit_cycle_baseline(
    rate: npt.NDArray[np.floating],
    rate_hz: float,
    *,
    rotor_speed: npt.NDArray[np.floating] | None = None,
    detector: Detector | None = None,
) -> LimitCycleBaseline:
    """The healthy flight an oscillation is told against.

    Parameters
    ----------
    rate
        (n,) rad/s, 10 s or more of even samples.
    rotor_speed
        (rotors, n) rev/s; frames in which a rotor's order lay at a frequency do not count there.

    Raises
    ------
    InputError
        For less than ten seconds, or a rate too slow for the frequencies looked at.
    """
    how = detector or Detector()
    values = np.asarray(rate, dtype=np.float32)
    if values.size < 10.0 * rate_hz or rate_hz < 4.0 * how.low:
        raise InputError(
            f"{values.size / rate_hz:.1f} s at {rate_hz:g} Hz, a baseline takes 10 s of flight at {4.0 * how.low:g} Hz or more",
            next_step="use a longer healthy flight",
        )
    frames = _frames(values, rate_hz, how)
    power = _three(frames.power[0])
    middle = np.median(power, axis=0)
    if not np.any(middle > 0.0):
        raise InputError("the baseline flight's rate is constant", next_step="use a flight with a live gyro")
    orders, speed = np.zeros(0), 0.0
    if rotor_speed is not None:
        turning = mended_speed(np.atleast_2d(np.asarray(rotor_speed)))
        speed = float(turning.mean())
        if speed > 1.0:
            orders = _line_heights(values, turning, rate_hz, float(frames.frequency[1]))
    return LimitCycleBaseline(frames.frequency, middle, orders, speed, rate_hz, values.size / rate_hz, how)


def _line_heights(values: Float32, speed: FloatArray, rate_hz: float, width: float) -> FloatArray:
    """Density each order's line reaches in a frame at the mean rotor speed, all rotors in step; 0 where none was found."""
    reference = float(speed.mean())
    cut = cut_stretches({"rate.any": values}, speed, rate_hz, reference, most=_LINES_FROM)
    out = []
    for order in ORDERS:
        level = line_of(cut, order, reference, FROM_TELEMETRY)[0].at_reference["rate.any"].value
        out.append(0.0 if level is None else speed.shape[0] * level**2 / (3.0 * width))
    return np.array(out)


def limit_cycle(
    rate: npt.NDArray[np.floating],
    rate_hz: float,
    *,
    baseline: LimitCycleBaseline | None,
    rotor_speed: npt.NDArray[np.floating] | None = None,
    command: npt.NDArray[np.floating] | None = None,
) -> tuple[LimitCycle, ...]:
    """Oscillation that grew out of the healthy flight's, on one axis.

    Parameters
    ----------
    rate
        (n,) rad/s.
    baseline
        Of a healthy flight of this aircraft; without one nothing is told (absolute limits raise false alarms in
        hard flying).
    command
        (n,) rad/s commanded; an oscillation the command has too is not told.
    """
    if baseline is None:
        return ()
    how = baseline.detector
    height, frames = standing(rate, rate_hz, baseline, rotor_speed)
    if height.shape[0] < how.frames:
        return ()
    if command is not None:
        height = np.where(_commanded(rate, command, rate_hz, how), -np.inf, height)
    strength = _rms(frames)
    held = _held(np.where(strength > how.least, height, -np.inf), frames, how) > how.stands_out
    return _stretches(held, height, strength, frames, baseline)


def standing(
    rate: npt.NDArray[np.floating],
    rate_hz: float,
    baseline: LimitCycleBaseline,
    rotor_speed: npt.NDArray[np.floating] | None,
) -> tuple[FloatArray, Frames]:
    """How far each frequency stands out (frames, nf), dB; minus infinity where it is not looked at."""
    how = baseline.detector
    frames = _frames(np.asarray(rate, dtype=np.float32), rate_hz, how)
    shown = frames.frequency <= min(how.high + 2.0 * how.around, 0.5 * rate_hz)
    frames = Frames(frames.power[:, :, shown], frames.frequency[shown], frames.length, frames.hop, rate_hz)
    healthy = np.interp(frames.frequency, baseline.frequency, baseline.density)
    power = _three(frames.power[0])
    height = 10.0 * np.log10(np.maximum(power, 1e-30) / healthy)
    height -= np.maximum(_beside(height, frames.frequency[1], how), 0.0)
    if rotor_speed is not None and baseline.orders.size:
        line = _lines_at(frames, rotor_speed, baseline)
        above = 10.0 * np.log10(np.maximum(power, 1e-30) / np.maximum(line, 1e-30))
        height = np.minimum(height, above + how.line_less)
    out = (frames.frequency < how.low) | (frames.frequency > min(how.high, 0.45 * rate_hz))
    height = height - np.where(frames.frequency < how.slow, how.slow_more, 0.0)
    return np.where(out, -np.inf, height), frames


def _beside(height: FloatArray, width: float, how: Detector) -> FloatArray:
    """Mean height of the neighbours (frames, nf), the frequency's own line left out."""
    wide, own = round(how.around / width), max(2, round(4.0 / width))
    return np.asarray(
        (_summed(height, wide) * (2 * wide + 1) - _summed(height, own) * (2 * own + 1)) / (2 * (wide - own))
    )


def _summed(height: FloatArray, half: int) -> FloatArray:
    """Running mean over ``2 * half + 1`` bins, mirrored at the ends."""
    padded = np.cumsum(np.pad(height, ((0, 0), (half + 1, half)), mode="reflect"), axis=1)
    return np.asarray((padded[:, 2 * half + 1 :] - padded[:, : -2 * half - 1]) / (2 * half + 1))


def _frames(values: Float32, rate_hz: float, how: Detector) -> Frames:
    return frames_of([values], rate_hz, good_length(how.frame, rate_hz), max(1, round(how.hop * rate_hz)))


def _three(power: npt.NDArray[np.floating]) -> FloatArray:
    """Means of three neighbouring bins along the last axis: what a Hann window makes of a line."""
    out = power.astype(np.float64)
    out[..., 1:-1] += power[..., :-2]
    out[..., 1:-1] += power[..., 2:]
    out[..., 1:-1] /= 3.0
    return out


def _lines_at(
    frames: Frames, rotor_speed: npt.NDArray[np.floating], baseline: LimitCycleBaseline
) -> FloatArray:
    """Density (frames, nf) that a healthy flight's rotor lines would reach where they lie; 0 elsewhere."""
    how = baseline.detector
    speed = np.atleast_2d(np.asarray(rotor_speed, dtype=np.float64))
    starts = np.arange(frames.power.shape[1]) * frames.hop
    out = np.zeros(frames.power.shape[1:])
    for part in np.linspace(0, frames.length - 1, 5).astype(np.int64):
        now = speed[:, np.minimum(starts + part, speed.shape[1] - 1)]
        for order, height in zip(ORDERS, baseline.orders, strict=True):
            seen = folded(order * now, frames.rate_hz)
            level = height * (now / baseline.speed) ** 4
            for rotor in range(speed.shape[0]):
                there = np.abs(frames.frequency[None, :] - seen[rotor][:, None]) < how.beside_rotor
                np.maximum(out, there * level[rotor][:, None], out=out)
    return out


def _rms(frames: Frames) -> FloatArray:
    """rad/s rms (frames, nf) of a line at each frequency: root of three bins' power (a Hann window's line)."""
    return np.asarray(np.sqrt(3.0 * _three(frames.power[0]) * frames.frequency[1]))


def _held(height: FloatArray, frames: Frames, how: Detector) -> FloatArray:
    """Least height (frames, nf) over the last frames, each the greatest within the wander."""
    near = int(how.wander / frames.frequency[1])
    wide = height.copy()
    for step in range(1, near + 1):
        wide[:, step:] = np.maximum(wide[:, step:], height[:, :-step])
        wide[:, :-step] = np.maximum(wide[:, :-step], height[:, step:])
    held = np.full_like(height, -np.inf)
    if height.shape[0] >= how.frames:
        view = np.lib.stride_tricks.sliding_window_view(wide, how.frames, axis=0)
        held[how.frames - 1 :] = view.min(axis=2)
    return held


def _commanded(
    rate: npt.NDArray[np.floating], command: npt.NDArray[np.floating], rate_hz: float, how: Detector
) -> npt.NDArray[np.bool_]:
    """Where the command itself carries a fifth or more of the rate's power."""
    ours = _three(_frames(np.asarray(rate, dtype=np.float32), rate_hz, how).power[0])
    asked = _three(_frames(np.asarray(command, dtype=np.float32), rate_hz, how).power[0])
    return np.asarray(asked > 0.2 * ours)


def _stretches(
    held: npt.NDArray[np.bool_],
    height: FloatArray,
    strength: FloatArray,
    frames: Frames,
    baseline: LimitCycleBaseline,
) -> tuple[LimitCycle, ...]:
    """Runs of frames in which it was told, as stretches of time; runs closer than a second are one."""
    how = baseline.detector
    told = np.flatnonzero(held.any(axis=1))
    if told.size == 0:
        return ()
    seconds = frames.hop / frames.rate_hz
    breaks = np.flatnonzero(np.diff(told) * seconds > 1.0)
    out = []
    for run in np.split(told, breaks + 1):
        first, last = int(run[0]) - how.frames + 1, int(run[-1])
        part = np.where(
            held[run].any(axis=0)[None, :], np.where(np.isfinite(height[first : last + 1]), 1.0, 0.0), 0.0
        )
        power = strength[first : last + 1] * part
        frame, place = np.unravel_index(int(power.argmax()), power.shape)
        rms = float(power[frame, place])
        healthy = math.sqrt(3.0 * float(baseline.density[place]) * float(frames.frequency[1]))
        growth = 20.0 * math.log10(rms / healthy) if healthy > 0.0 else math.inf
        start, end = first * seconds, last * seconds + frames.length / frames.rate_hz
        told_at = int(run[0]) * seconds + frames.length / frames.rate_hz
        frequency = float(frames.frequency[place])
        out.append(
            LimitCycle(
                start, end, told_at, frequency, rms, growth, _told(start, end, frequency, rms, growth, how)
            )
        )
    return tuple(out)


def _told(start: float, end: float, frequency: float, rms: float, growth: float, how: Detector) -> str:
    return (
        f"oscillation at {frequency:.1f} Hz from {start:.1f} to {end:.1f} s, up to {math.degrees(rms):.1f} deg/s rms, "
        f"{growth:.0f} dB above the healthy flight: the rate loop is at the edge of its gain margin or past it; land, and "
        f"lower its gains before the next flight; {NOT_COVERED.format(low=how.low, high=how.high)}"
    )
