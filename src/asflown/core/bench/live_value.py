"""What samples of a link say for one box of a card: a value that is held, a change, channels that move."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.calibrate.receiver import DEAD

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

#: Degrees that a held attitude may move while it is read; V and A likewise (common practice, no source).
MOVED = {"attitude": 4.0, "pack_voltage": 0.15, "pack_current": 3.0}
#: Microseconds that a channel goes when its stick is moved; share of the reading that its end is.
REACH, END = 100.0, 0.25
#: Figures after the point.
_DIGITS = {"attitude": 1, "pack_voltage": 2, "pack_current": 2}


@dataclass(frozen=True, slots=True)
class LiveValue:
    """A reading in words: its value, and how sure it is."""

    value: str
    says: str


def held(signal: str, values: Float) -> LiveValue:
    """A value (n,), SI, that is held: its median, in degrees for an angle.

    Raises
    ------
    ValueError
        When it moved while it was read, or nothing came.
    """
    family = signal.partition(".")[0]
    shown = _shown(signal, values)
    low, middle, high = (float(one) for one in np.percentile(shown, [2.5, 50.0, 97.5]))
    unit = "°" if family == "attitude" else ""
    if high - low > MOVED.get(family, math.inf):
        raise ValueError(f"it moved by {high - low:.3g}{unit} while it was read: hold it still")
    digits = _DIGITS.get(family, 3)
    says = f"median of {shown.size} samples, 95 % of them {low:.{digits}f} to {high:.{digits}f}{unit}"
    return LiveValue(_plain(middle, digits), says)


def changed(signal: str, values: Float) -> LiveValue:
    """How far a value (n,), SI, moved from the first quarter second of it to the last, in degrees.

    Raises
    ------
    ValueError
        When nothing came.
    """
    shown = _shown(signal, values)
    part = max(1, shown.size // 10)
    before, after = float(np.median(shown[:part])), float(np.median(shown[-part:]))
    digits = _DIGITS.get(signal.partition(".")[0], 3)
    return LiveValue(
        _plain(after - before, digits),
        f"from {before:.{digits}f} to {after:.{digits}f}, {shown.size} samples",
    )


def _shown(signal: str, values: Float) -> Float:
    finite = values[np.isfinite(values)]
    if finite.size == 0:
        raise ValueError("the aircraft did not tell it")
    is_angle = signal.startswith("attitude.")
    return np.degrees(np.unwrap(finite)) if is_angle else finite


def _plain(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def channels(values: Mapping[str, Float]) -> LiveValue:
    """Which receiver channels moved, between which ends, and where each came to rest, in microseconds.

    Raises
    ------
    ValueError
        When none moved.
    """
    said = []
    count = 0
    for name, row in values.items():
        finite = row[np.isfinite(row)]
        if not name.startswith("channel.") or finite.size < 4:
            continue
        count = max(count, finite.size)
        low, high = float(finite.min()), float(finite.max())
        if high - low < max(REACH, DEAD * high):
            continue
        rest = float(np.median(finite[-max(2, int(END * finite.size / 4)) :]))
        said.append(f"channel {name.partition('.')[2]}: {low:.0f} to {high:.0f}, rest {rest:.0f}")
    if not count:
        raise ValueError("the aircraft does not tell its receiver's channels")
    if not said:
        raise ValueError("no channel moved: move the stick to both its ends while it is read, then let go")
    return LiveValue("; ".join(said), f"{count} samples")
