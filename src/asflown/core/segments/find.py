"""Segments of a flight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import Span
from asflown.core.segments.airborne import Aloft, aloft
from asflown.core.segments.kinds import Kind, Segment, Segments
from asflown.core.segments.saturation import saturation
from asflown.core.segments.slow import Slow, mask_of, ranges, smooth
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.core.flight import Flight, FloatArray
    from asflown.core.segments.slow import BoolArray

#: Turning and commands under which it hovers, rad/s; tilt, rad; speed, m/s; collective off its level, share.
STILL, UPRIGHT, SLOW_SPEED, STEADY = 0.35, 0.21, 1.5, 0.2
#: Tilt, rad, or speed, m/s, above which it flies forward, held for this many seconds.
TILTED, MOVING, FORWARD_FOR = 0.17, 3.0, 2.0
#: A manoeuvre turns or is commanded faster than this, rad/s, by axis.
MANOEUVRE = {"roll": 0.6, "pitch": 0.6, "yaw": 0.4}
#: A punch takes the collective this far over hover: share of it, and at least so much.
PUNCH = (0.4, 0.12)
#: Seconds after leaving and before touching the ground that are called take-off and landing.
TRANSIT = 2.0


def segments(flight: Flight) -> Segments:
    """Find what the aircraft did when; works with rates and motors alone and says what it lacked."""
    slow = Slow.of(flight)
    if slow is None:
        return Segments(
            (), (), np.zeros(0), np.zeros((0, 0), dtype=bool), statements=("no signal with a usable time",)
        )
    found = aloft(slow)
    in_air = mask_of(found.stretches, slow.time.size)
    free, transit = _transits(slow, found.stretches, in_air)
    at_limit = saturation(slow, in_air)
    manoeuvres = {axis: _manoeuvres(slow, axis, in_air) for axis in AXES}
    listed = [
        *(_segment(slow, r, Kind.GROUND, "not airborne") for r in ranges(~in_air, least=round(slow.rate))),
        *transit,
        *_hover(slow, found, free),
        *_forward(slow, free),
        *_punches(slow, found, free),
        *(segment for kinds in manoeuvres.values() for segment in kinds[1]),
        *_saturated(slow, at_limit),
    ]
    return Segments(
        tuple(listed),
        tuple(_span(slow, r) for r in found.stretches),
        slow.time,
        at_limit,
        found.hover_level,
        _axis_shares(at_limit, {axis: kinds[0] for axis, kinds in manoeuvres.items()}, in_air),
        _statements(slow, found),
    )


def _span(slow: Slow, stretch: tuple[int, int]) -> Span:
    start = float(slow.time[0]) - 0.5 / slow.rate
    return Span(start + stretch[0] / slow.rate, start + stretch[1] / slow.rate)


def _segment(
    slow: Slow, stretch: tuple[int, int], kind: Kind, reason: str, axis: str | None = None
) -> Segment:
    return Segment(kind, _span(slow, stretch), reason, axis)


def _transits(
    slow: Slow, stretches: list[tuple[int, int]], in_air: BoolArray
) -> tuple[BoolArray, list[Segment]]:
    """Airborne without take-offs and landings, and these. A log that begins or ends in the air has none."""
    free, told = in_air.copy(), []
    long = round(TRANSIT * slow.rate)
    for a, b in stretches:
        part = min(long, (b - a) // 2)
        if a > slow.rate / 2:
            told.append(
                _segment(slow, (a, a + part), Kind.TAKE_OFF, f"first {TRANSIT:g} s after ground time")
            )
            free[a : a + part] = False
        if b < slow.time.size - slow.rate / 2:
            told.append(_segment(slow, (b - part, b), Kind.LANDING, f"last {TRANSIT:g} s before ground time"))
            free[b - part : b] = False
    return free, told


def _size(slow: Slow, names: list[str], seconds: float = 0.2) -> FloatArray | None:
    """(n,) length of the vector of what was logged of some signals, smoothed."""
    known = [slow.mean(name) for name in names]
    found = [smooth(one, round(seconds * slow.rate)) ** 2 for one in known if one is not None]
    return np.asarray(np.sqrt(np.sum(found, axis=0))) if found else None


def _speed(slow: Slow) -> FloatArray | None:
    return _size(slow, ["velocity.north", "velocity.east"])


def _tilt(slow: Slow) -> FloatArray | None:
    return _size(slow, ["attitude.roll", "attitude.pitch"])


def _hover(slow: Slow, found: Aloft, free: BoolArray) -> list[Segment]:
    mask, reasons = free.copy(), []
    for names, limit, words in (
        ([f"rate.{axis}" for axis in AXES], STILL, f"turning under {STILL} rad/s"),
        ([f"rate_command.{axis}" for axis in AXES], STILL, f"commands under {STILL} rad/s"),
        (["attitude.roll", "attitude.pitch"], UPRIGHT, f"tilt under {UPRIGHT} rad"),
        (["velocity.north", "velocity.east", "velocity.up"], SLOW_SPEED, f"speed under {SLOW_SPEED} m/s"),
    ):
        size = _size(slow, names)
        if size is not None:
            # Half a second around any excess is no hover.
            quiet = smooth((size > limit).astype(np.float64), round(0.5 * slow.rate)) < 0.02
            mask &= quiet
            reasons.append(words)
    if found.collective is not None and found.hover_level:
        off = np.abs(smooth(found.collective, round(0.5 * slow.rate)) / found.hover_level - 1)
        mask &= off < STEADY
        reasons.append(f"collective within {STEADY:.0%} of {found.hover_level:.2f}")
    if not reasons:
        return []
    why = ", ".join(reasons)
    return [_segment(slow, r, Kind.HOVER, why) for r in ranges(mask, join=3, least=round(slow.rate))]


def _forward(slow: Slow, free: BoolArray) -> list[Segment]:
    speed, tilt = _speed(slow), _tilt(slow)
    least = round(FORWARD_FOR * slow.rate)
    if speed is not None:
        moving, why = speed > MOVING, f"faster than {MOVING} m/s"
    elif tilt is not None:
        moving = smooth(tilt, round(slow.rate)) > TILTED
        why = f"tilted more than {TILTED} rad; speed not logged"
    else:
        return []
    stretches = ranges(np.asarray(free & moving), join=round(slow.rate / 2), least=least)
    return [_segment(slow, r, Kind.FORWARD, why) for r in stretches]


def _punches(slow: Slow, found: Aloft, free: BoolArray) -> list[Segment]:
    if found.collective is None or not found.hover_level:
        return []
    limit = found.hover_level + max(PUNCH[0] * found.hover_level, PUNCH[1])
    mask = free & (smooth(found.collective, round(0.1 * slow.rate)) > limit)
    why = f"collective above {limit:.2f}"
    return [
        _segment(slow, r, Kind.PUNCH, why)
        for r in ranges(mask, join=round(0.3 * slow.rate), least=round(0.2 * slow.rate))
    ]


def _manoeuvres(slow: Slow, axis: str, in_air: BoolArray) -> tuple[BoolArray, list[Segment]]:
    name = f"rate_command.{axis}"
    size = _size(slow, [name], 0.06)
    if size is None:
        name = f"rate.{axis}"
        size = _size(slow, [name], 0.06)
    if size is None:
        return np.zeros(slow.time.size, dtype=bool), []
    limit = MANOEUVRE[axis]
    stretches = ranges(in_air & (size > limit), join=round(0.6 * slow.rate), least=round(0.1 * slow.rate))
    why = f"{name} above {limit} rad/s"
    return (
        mask_of(stretches, slow.time.size),
        [_segment(slow, r, Kind.MANOEUVRE, why, axis) for r in stretches],
    )


def _saturated(slow: Slow, at_limit: BoolArray) -> list[Segment]:
    if at_limit.shape[0] == 0:
        return []
    told = []
    for a, b in ranges(np.asarray(at_limit.any(axis=0)), join=round(0.1 * slow.rate)):
        motors = ", ".join(f"motor.{i + 1}" for i in np.flatnonzero(at_limit[:, a:b].any(axis=1)))
        told.append(_segment(slow, (a, b), Kind.SATURATED, f"{motors} at a limit"))
    return told


def _axis_shares(
    at_limit: BoolArray, manoeuvres: dict[str, BoolArray], in_air: BoolArray
) -> dict[str, float]:
    if at_limit.shape[0] == 0 or not in_air.any():
        return {}
    anyone = np.asarray(at_limit.any(axis=0))
    within = {axis: mask if mask.any() else in_air for axis, mask in manoeuvres.items()}
    return {axis: float(np.mean(anyone[mask])) for axis, mask in within.items()}


def _statements(slow: Slow, found: Aloft) -> tuple[str, ...]:
    told = [f"airborne: {found.reason}"]
    if not found.stretches:
        told = [f"no flight found: {found.reason}"]
    if not slow.flight.family("motor"):
        told.append("no motors logged: saturation cannot be told")
    if _speed(slow) is None and _tilt(slow) is None:
        told.append("neither speed nor attitude logged: forward flight cannot be told from hover")
    return tuple(told)
