"""The part of a flight that lines are measured on: all of a short one, evenly spread stretches of a long one."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.demodulate import Stretches
from asflown.core.vibration.orders import angle_of

FloatArray = npt.NDArray[np.float64]

#: s of flight the lines of a long log are measured on, in stretches of as many s.
MOST, STRETCH = 96.0, 8.0


def starts_of(samples: int, rate_hz: float, most: float = MOST) -> tuple[npt.NDArray[np.int64], int]:
    """First samples of the stretches, and their length in samples."""
    if samples <= most * rate_hz:
        return np.zeros(1, dtype=np.int64), samples
    length = round(STRETCH * rate_hz)
    count = int(most / STRETCH)
    return np.linspace(0, samples - length, count).astype(np.int64), length


def cut_stretches(
    signals: Mapping[str, npt.NDArray[np.floating]],
    speed: FloatArray,
    rate_hz: float,
    reference: float,
    most: float = MOST,
) -> Stretches:
    """Stretches of signals (n,) and rotor speed (rotors, n) rev/s, amplitude relative to ``reference`` rev/s."""
    first, length = starts_of(speed.shape[1], rate_hz, most)
    names = tuple(signals)
    values = np.empty((first.size, len(names), length), dtype=np.float32)
    angle = np.empty((first.size, speed.shape[0], length), dtype=np.float32)
    pace = np.empty_like(angle)
    for number, start in enumerate(first):
        part = slice(int(start), int(start) + length)
        for row, name in enumerate(names):
            values[number, row] = signals[name][part]
        values[number] -= values[number].mean(axis=1, keepdims=True)
        pace[number] = speed[:, part]
        turned = angle_of(speed[:, part].astype(np.float64), rate_hz)
        angle[number] = turned - np.floor(turned)
    return Stretches(names, values, angle, (pace / np.float32(reference)) ** 2, pace, rate_hz)


def usable_samples(signals: Mapping[str, npt.NDArray[np.floating]]) -> dict[str, npt.NDArray[np.float32]]:
    """The signals as float32, what is not a number filled from its neighbours; all-empty ones left out."""
    out = {}
    for name, values in signals.items():
        found = np.asarray(values, dtype=np.float32)
        good = np.isfinite(found)
        if not good.any():
            continue
        if not good.all():
            place = np.arange(found.size)
            found = np.interp(place, place[good], found[good]).astype(np.float32)
        out[name] = found
    return out
