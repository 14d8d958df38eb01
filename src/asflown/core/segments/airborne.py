"""When the aircraft was in the air, from whatever was logged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.segments.slow import mask_of, ranges, smooth
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray, Labels
    from asflown.core.segments.slow import BoolArray, Slow

#: Turning, rad/s (root mean square over half a second), above which something moves the aircraft.
LIVELY = 0.08
#: Of the collective in hover: above this share it carries itself.
CARRIES = 0.5
#: Collective below which motors stand or idle, whatever hover takes. Common practice, no source.
IDLE = 0.08
#: Seconds of low collective that belong to the flight (a dive), and the shortest flight.
DIVE, SHORTEST = 2.5, 1.0

#: Words of the armed label that say the motors may not turn.
OFF_WORDS = ("0", "false", "no", "off", "disarmed", "safe", "standby")


@dataclass(frozen=True, eq=False)
class Aloft:
    """Where airborne, as bins, and from what that was told.

    Attributes
    ----------
    collective
        (n,) mean motor command, else throttle; ``None`` where neither was logged.
    turning
        (n,) rad/s.
    """

    stretches: list[tuple[int, int]]
    collective: FloatArray | None
    turning: FloatArray | None
    hover_level: float | None
    reason: str


def aloft(slow: Slow) -> Aloft:
    """Judge every bin."""
    turning, (collective, word) = _turning(slow), _collective(slow)
    size = slow.time.size
    mask, level, reason = _judged(slow, turning, collective, word)
    armed = slow.flight.labels.get("armed")
    if armed is not None and armed.time.size:
        mask &= _armed(armed, slow.time)
        reason += "; only while armed"
    join, least = round(DIVE * slow.rate), round(SHORTEST * slow.rate)
    stretches = ranges(mask, join=join, least=least)
    if level is not None and collective is not None and stretches:
        level = float(np.median(collective[mask_of(stretches, size)]))
    return Aloft(stretches, collective, turning, level, reason)


def _judged(
    slow: Slow, turning: FloatArray | None, collective: FloatArray | None, word: str
) -> tuple[BoolArray, float | None, str]:
    size = slow.time.size
    if collective is not None:
        working = collective > IDLE
        lively = working if turning is None else working & (turning > LIVELY)
        if np.count_nonzero(lively) < slow.rate and _works(collective[working]):
            lively = working  # a calm hover: the motors work, the aircraft does not turn
        if np.count_nonzero(lively) < slow.rate * SHORTEST:
            return np.zeros(size, dtype=bool), None, f"{word} never rose above idle in flight"
        level = float(np.median(collective[lively]))
        mask = smooth(collective, round(0.3 * slow.rate)) > max(IDLE, CARRIES * level)
        return (
            _raised(slow, mask),
            level,
            f"{word} above {CARRIES * level:.2f}, half of {level:.2f} in flight",
        )
    if turning is not None:
        return (
            turning > LIVELY,
            None,
            f"turning faster than {LIVELY} rad/s; neither motors nor throttle logged",
        )
    height = slow.mean("altitude")
    if height is not None:
        return height > float(np.quantile(height, 0.02)) + 1.0, None, "more than 1 m above the lowest height"
    return np.zeros(size, dtype=bool), None, "no rates, motors, throttle or height logged"


def _works(collective: FloatArray) -> bool:
    """Whether a collective changes at all, as one that a controller makes does."""
    return collective.size > 1 and float(np.ptp(collective)) > 0.002


def _raised(slow: Slow, mask: BoolArray) -> BoolArray:
    """A dive at height with closed throttle is flight too."""
    height = slow.mean("altitude")
    if height is None or not mask.any() or mask.all():
        return mask
    ground = float(np.median(height[~mask]))
    if float(np.max(height[mask])) < ground + 2.0:
        return mask
    return mask | (height > ground + 1.5)


def _turning(slow: Slow) -> FloatArray | None:
    known = [slow.mean(f"rate.{axis}") for axis in AXES]
    found = [rate - np.median(rate) for rate in known if rate is not None]
    if not found:
        return None
    squares = np.sum([smooth(rate**2, round(0.5 * slow.rate)) for rate in found], axis=0)
    return np.asarray(np.sqrt(np.maximum(squares, 0.0)))


def _collective(slow: Slow) -> tuple[FloatArray | None, str]:
    motors = [slow.mean(trace.name) for trace in slow.flight.family("motor")]
    known = [motor for motor in motors if motor is not None]
    if known:
        return np.mean(known, axis=0), "mean motor command"
    throttle = slow.mean("throttle")
    if throttle is not None:
        return throttle, "throttle"
    speeds = [slow.mean(trace.name) for trace in slow.flight.family("rotor_speed")]
    spinning = [speed for speed in speeds if speed is not None]
    if spinning:
        mean = np.mean(spinning, axis=0)
        top = float(np.quantile(mean, 0.99))
        return (mean / top) ** 2 if top > 0 else mean, "square of rotor speed"
    return None, ""


def _armed(labels: Labels, time: FloatArray) -> BoolArray:
    live = np.array([word.strip().lower() not in OFF_WORDS for word in labels.words])
    held = np.searchsorted(labels.time, time, side="right") - 1
    return np.asarray(np.where(held >= 0, live[np.maximum(held, 0)], True))
