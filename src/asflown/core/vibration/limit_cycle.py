"""Narrow-band oscillation that grows: a limit cycle of the rate loop, told against a healthy baseline.

A frequency has to stand out of the healthy flight (:mod:`asflown.core.vibration.standing`) for several
frames in a row. Where the rotors' orders lie, folded or not, it has to stand out of their lines too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asflown.core.signal.ranges import true_ranges
from asflown.core.vibration.levels import line_of
from asflown.core.vibration.result import FROM_TELEMETRY
from asflown.core.vibration.standing import (
    ORDERS,
    Detector,
    Levels,
    LimitCycleBaseline,
    grid_of,
    heights,
    held_out,
    levels_of,
    rotor_lines,
)
from asflown.core.vibration.stretches import Sampled, cut_stretches, sampled
from asflown.errors import InputError

__all__ = ["Detector", "LimitCycle", "LimitCycleBaseline", "limit_cycle", "limit_cycle_baseline"]

FloatArray = npt.NDArray[np.float64]
Float32 = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.floating]

_LINES_FROM = 48.0  # s of the baseline flight that the rotor lines are measured on
_SHORTEST = 10.0  # s of a baseline flight
_AROUND = 1.2  # s looked at before and after what stands out
_COMMANDED = 0.2  # share of the rate's power in the command from which on it is the command's

NOT_COVERED = (
    "not covered: oscillation slower than {low:g} Hz (there it looks like the pilot's own flying) or "
    "faster than "
    "{high:g} Hz, weaker than {least:.1f} deg/s, hidden under a rotor's line, or already there in the "
    "baseline flight"
)


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
    rate: Numbers,
    rate_hz: float,
    *,
    rotor_speed: Numbers | None = None,
    detector: Detector | None = None,
) -> LimitCycleBaseline:
    """The healthy flight an oscillation is told against.

    Parameters
    ----------
    rate
        (n,) rad/s, 10 s or more of even samples.
    rotor_speed
        (rotors, n) rev/s, for the rotors' lines.

    Raises
    ------
    InputError
        For less than ten seconds, a rate too slow for the frequencies looked at, or a constant one.
    """
    how = detector or Detector()
    values = np.asarray(rate, dtype=np.float32)
    if values.size < _SHORTEST * rate_hz or rate_hz < 4.0 * how.low:
        raise InputError(
            f"{values.size / rate_hz:.1f} s at {rate_hz:g} Hz, a baseline takes {_SHORTEST:g} s of flight at "
            f"{4.0 * how.low:g} Hz or more",
            next_step="use a longer healthy flight",
        )
    levels = levels_of(values, rate_hz, how)
    middle = np.median(levels.power, axis=0).astype(np.float64)
    if not np.all(middle[1:] > 0.0):
        raise InputError("the baseline flight's rate is constant", next_step="use a flight with a live gyro")
    orders, speed = np.zeros(0), 0.0
    if rotor_speed is not None:
        flown = sampled({"rate.any": values}, np.atleast_2d(np.asarray(rotor_speed)), rate_hz, _LINES_FROM)
        if flown.speed is not None:
            speed = float(flown.speed.mean())
            orders = _line_powers(flown, speed, levels.width)
    seconds = values.size / rate_hz
    return LimitCycleBaseline(
        levels.frequency, np.maximum(middle, 1e-30), orders, speed, rate_hz, seconds, how
    )


def _line_powers(flown: Sampled, reference: float, width: float) -> FloatArray:
    """Power an order's line reaches in a frame at the mean speed, all rotors in step; 0: not found."""
    cut = cut_stretches(flown, reference)
    out = []
    for order in ORDERS:
        level = line_of(cut, order, reference, FROM_TELEMETRY)[0].at_reference["rate.any"].value
        out.append(0.0 if level is None else cut.speed.shape[1] * level**2 / (3.0 * width))
    return np.array(out)


def limit_cycle(
    rate: Numbers,
    rate_hz: float,
    *,
    baseline: LimitCycleBaseline | None,
    rotor_speed: Numbers | None = None,
    command: Numbers | None = None,
) -> tuple[LimitCycle, ...]:
    """Oscillation that grew out of the healthy flight's, on one axis.

    Parameters
    ----------
    rate
        (n,) rad/s.
    baseline
        Of a healthy flight of this aircraft; without one nothing is told (absolute limits raise false
        alarms in hard flying).
    rotor_speed
        (rotors, n) rev/s.
    command
        (n,) rad/s commanded; an oscillation the command has too is not told.
    """
    if baseline is None:
        return ()
    out: list[LimitCycle] = []
    for part in _parts_worth_a_look(rate, rate_hz, baseline):
        near = None if rotor_speed is None else np.atleast_2d(np.asarray(rotor_speed))[:, part]
        asked = None if command is None else command[part]
        shift = part.start / rate_hz
        out += _looked_at(rate[part], rate_hz, baseline, near, asked, shift)
    return tuple(out)


def _parts_worth_a_look(rate: Numbers, rate_hz: float, baseline: LimitCycleBaseline) -> list[slice]:
    """Samples around which every third frame or so stands out twice in a row: what can be told lies there."""
    how = baseline.detector
    every = max(1, how.frames // 2)
    levels = levels_of(rate, rate_hz, how, every)
    peak = heights(levels, baseline).max(axis=1, initial=-np.inf) > how.stands_out
    places = np.flatnonzero(peak[1:] & peak[:-1])
    factor, hop = grid_of(rate_hz, how)
    step, reach = factor * hop, round(_AROUND * rate_hz)
    out: list[slice] = []
    for place in places.tolist():
        start = max(0, place * every * step - reach) // step * step
        end = (place + 1) * every * step + round(how.frame * rate_hz) + reach
        if out and start <= out[-1].stop:
            out[-1] = slice(out[-1].start, end)
        else:
            out.append(slice(start, end))
    return out


def _looked_at(
    rate: Numbers,
    rate_hz: float,
    baseline: LimitCycleBaseline,
    rotor_speed: Numbers | None,
    command: Numbers | None,
    shift: float,
) -> tuple[LimitCycle, ...]:
    how = baseline.detector
    levels = levels_of(rate, rate_hz, how)
    height = heights(levels, baseline)
    rows = _worth_a_look(height.max(axis=1, initial=-np.inf) > how.stands_out, how.frames)
    if rows.size == 0:
        return ()
    if rotor_speed is not None and baseline.orders.size:
        line = rotor_lines(levels, rows, np.atleast_2d(np.asarray(rotor_speed)), baseline)
        with np.errstate(divide="ignore"):
            above = 10.0 * np.log10(levels.power[rows] / line) + how.line_less
        height[rows] = np.minimum(height[rows], above)
    if command is not None:
        asked = levels_of(command, rate_hz, how).power[rows]
        height[rows] = np.where(asked > _COMMANDED * levels.power[rows], -np.inf, height[rows])
    held = held_out(height, levels.width, how) > how.stands_out
    return _stretches(held, height, replace(levels, first=levels.first + shift), baseline)


def _worth_a_look(peak: npt.NDArray[np.bool_], frames: int) -> npt.NDArray[np.int64]:
    """Frames that belong to runs of ``frames`` or more."""
    starts, ends = true_ranges(peak)
    long = ends - starts >= frames
    parts = [np.arange(a, b) for a, b in zip(starts[long], ends[long], strict=True)]
    return np.concatenate([np.zeros(0, dtype=np.int64), *parts]).astype(np.int64)


def _stretches(
    held: npt.NDArray[np.bool_], height: Float32, levels: Levels, baseline: LimitCycleBaseline
) -> tuple[LimitCycle, ...]:
    """Runs of frames in which it was told, as stretches of time; runs closer than a second are one."""
    how = baseline.detector
    told = np.flatnonzero(held.any(axis=1))
    if told.size == 0:
        return ()
    starts = levels.starts
    breaks = np.flatnonzero(np.diff(told) * levels.hop > 1.0)
    out = []
    for run in np.split(told, breaks + 1):
        first, last = int(run[0]) - how.frames + 1, int(run[-1])
        columns = held[run].any(axis=0)
        power = np.where(np.isfinite(height[first : last + 1]) & columns, levels.power[first : last + 1], 0.0)
        place = int(power.max(axis=0).argmax())
        out.append(
            _one(
                (float(starts[first]), float(starts[last]) + levels.frame),
                float(starts[run[0]]) + levels.frame,
                float(levels.frequency[place]),
                float(levels.rms(power.max())),
                float(levels.rms(np.interp(levels.frequency[place], baseline.frequency, baseline.density))),
                how,
            )
        )
    return tuple(out)


def _one(
    span: tuple[float, float], told_at: float, frequency: float, rms: float, healthy: float, how: Detector
) -> LimitCycle:
    growth = 20.0 * math.log10(rms / healthy)
    uncovered = NOT_COVERED.format(low=how.low, high=how.high, least=math.degrees(how.least))
    statement = (
        f"oscillation at {frequency:.0f} Hz from {span[0]:.1f} to {span[1]:.1f} s, up to "
        f"{math.degrees(rms):.1f} deg/s "
        f"rms, {growth:.0f} dB above the healthy flight: the rate loop is at the edge of its gain "
        f"margin or past it; "
        f"land, and lower its gains before the next flight; {uncovered}"
    )
    return LimitCycle(*span, told_at, frequency, rms, growth, statement)
