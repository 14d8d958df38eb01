"""Receiver channels: how far each goes, where it rests, how much it jitters there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.allan import deviation_interval
from asflown.core.signal.mean_error import student

Float = npt.NDArray[np.float64]

#: Of what a log writes for a channel.
UNIT = "counts"
#: s of a window that is judged as a whole.
WINDOW = 0.5
#: Share of the widest channel's reach below which a channel is dead, and within which a window is at rest.
DEAD, REST = 0.01, 0.02
#: Share of all windows at rest near one value from which that is where a channel rests, not a stop.
_MIDDLE = 0.25


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel, in the log's own units.

    Attributes
    ----------
    centre
        Where it rests between its ends, with the scatter from rest to rest.
    jitter
        Standard deviation at rest.
    steps
        How many values it takes.
    """

    name: str
    low: float
    high: float
    centre: Measured
    jitter: Measured
    is_dead: bool
    steps: int
    missing: int

    @property
    def reach(self) -> float:
        """From end to end."""
        return self.high - self.low

    @property
    def off_centre(self) -> float | None:
        """Share of half its reach that it rests beside the middle of its ends."""
        if self.centre.value is None or self.reach == 0:
            return None
        return (self.centre.value - (self.low + self.high) / 2) / (self.reach / 2)


def channels(rows: Float, names: tuple[str, ...], rate_hz: float) -> tuple[Channel, ...]:
    """Channels (k, n) sampled evenly.

    Raises
    ------
    ValueError
        For fewer than four windows.
    """
    length = max(4, round(WINDOW * rate_hz))
    if rows.shape[1] < 4 * length:
        raise ValueError(
            f"{rows.shape[1] / rate_hz:.1f} s are too short: log 20 s while every stick is moved"
        )
    # the ends are held for some rows: single wild values are none
    ends = np.array([_ends(row) for row in rows])
    widest = float(np.max(ends[:, 1] - ends[:, 0]))
    return tuple(
        _channel(row, name, length, float(low), float(high), widest)
        for row, name, (low, high) in zip(rows, names, ends, strict=True)
    )


def _ends(row: Float) -> tuple[float, float]:
    finite = row[np.isfinite(row)]
    if finite.size == 0:
        return 0.0, 0.0
    ordered = np.sort(finite)
    spare = min(2, ordered.size // 100)
    return float(ordered[spare]), float(ordered[-1 - spare])


def _channel(row: Float, name: str, length: int, low: float, high: float, widest: float) -> Channel:
    missing = int(np.sum(~np.isfinite(row)))
    steps = int(np.unique(row[np.isfinite(row)]).size)
    reach = high - low
    if widest == 0 or reach < DEAD * widest:
        nothing = unmeasured("it never moved", UNIT)
        return Channel(name, low, high, nothing, nothing, True, steps, missing)
    windows = row[: row.size // length * length].reshape(-1, length)
    windows = windows[np.isfinite(windows).all(axis=1)]
    resting = windows[np.ptp(windows, axis=1) < REST * reach]
    if len(resting) == 0:
        nothing = unmeasured(f"it never rested for {WINDOW} s: let go of the sticks for 5 s", UNIT)
        return Channel(name, low, high, nothing, nothing, False, steps, missing)
    levels = np.median(resting, axis=1)
    inside = np.abs(levels - (low + high) / 2) < _MIDDLE * reach
    still = resting[inside] if inside.any() else resting
    return Channel(name, low, high, _centre(levels[inside]), _jitter(still), False, steps, missing)


def _centre(levels: Float) -> Measured:
    if levels.size < 3:
        return unmeasured("it did not rest near its middle three times over: let go of the stick", UNIT)
    value = float(levels.mean())
    half = student(levels.size - 1) * float(levels.std(ddof=1)) / math.sqrt(levels.size)
    return Measured(value, value - half, value + half, UNIT, "mean of the windows at rest")


def _jitter(still: Float) -> Measured:
    value = float(np.sqrt(np.mean(still.var(axis=1, ddof=1))))
    if value == 0.0:
        return Measured(0.0, 0.0, 0.0, UNIT, "it did not change at rest")
    low, high = deviation_interval(value, still.shape[0] * (still.shape[1] - 1))
    return Measured(value, float(low), float(high), UNIT, "standard deviation within the windows at rest")
