"""The part of a flight that is looked at: all of a short one, evenly spread stretches of a long one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.demodulate import Stretches
from asflown.core.vibration.orders import angle_of
from asflown.core.vibration.telemetry import mended_speed

FloatArray = npt.NDArray[np.float64]
Float32 = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.floating]

#: s of a long flight that are looked at, in stretches of as many s.
MOST, STRETCH = 96.0, 8.0


@dataclass(frozen=True, eq=False)
class Sampled:
    """Even stretches of a flight, all of one length, nothing missing.

    Attributes
    ----------
    values
        (stretches, channels, n) float32.
    speed
        (stretches, rotors, n) rev/s, float32; ``None`` where not known.
    """

    signals: tuple[str, ...]
    values: Float32
    speed: Float32 | None
    rate_hz: float

    @property
    def seconds(self) -> float:
        """Looked at in all."""
        return float(self.values.shape[0] * self.values.shape[2]) / self.rate_hz


def starts_of(samples: int, rate_hz: float, most: float = MOST) -> tuple[npt.NDArray[np.int64], int]:
    """First samples of the stretches, and their length in samples."""
    if samples <= most * rate_hz:
        return np.zeros(1, dtype=np.int64), samples
    length = round(STRETCH * rate_hz)
    count = max(1, int(most / STRETCH))
    return np.linspace(0, samples - length, count).astype(np.int64), length


def sampled(
    signals: Mapping[str, Numbers], speed: Numbers | None, rate_hz: float, most: float = MOST
) -> Sampled:
    """Stretches of signals (n,) and rotor speed (rotors, n) rev/s; an empty signal is left out."""
    samples = next(iter(signals.values())).size
    first, length = starts_of(samples, rate_hz, most)
    parts = [slice(start, start + length) for start in first.tolist()]
    names, rows = [], []
    for name, values in signals.items():
        whole = np.stack([np.asarray(values[part], dtype=np.float32) for part in parts])
        if _filled(whole):
            names.append(name)
            rows.append(whole)
    turning = None
    if speed is not None:
        turning = np.stack([mended_speed(speed[:, part]) for part in parts]).astype(np.float32)
        if not np.any(turning > 1.0):
            turning = None
    values = np.stack(rows, axis=1) if rows else np.zeros((first.size, 0, length), dtype=np.float32)
    return Sampled(tuple(names), values, turning, rate_hz)


def _filled(whole: Float32) -> bool:
    """Fill what is not a number from its neighbours, in place; whether there is anything at all."""
    good = np.isfinite(whole)
    if good.all():
        return True
    if not good.any():
        return False
    usual = float(np.median(whole[good]))
    place = np.arange(whole.shape[1])
    for row, known in zip(whole, good, strict=True):
        row[:] = np.interp(place, place[known], row[known]) if known.any() else usual
    return True


def cut_stretches(flown: Sampled, reference: float, every: int = 1) -> Stretches:
    """What separating lines needs, of every so many stretches; amplitude relative to ``reference`` rev/s."""
    assert flown.speed is not None
    speed = flown.speed[::every]
    angle = np.stack([angle_of(part, flown.rate_hz) for part in speed])
    values = flown.values[::every]
    values = values - values.mean(axis=2, keepdims=True)
    return Stretches(
        flown.signals, values, angle, (speed * np.float32(1.0 / reference)) ** 2, speed, flown.rate_hz
    )
