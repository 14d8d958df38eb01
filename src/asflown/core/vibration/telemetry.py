"""Rotor speed as telemetry gives it: held between updates, late, in steps; made good as far as the data tell."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.demodulate import equations, powers
from asflown.core.vibration.stretches import cut_stretches

FloatArray = npt.NDArray[np.float64]

#: s, delays tried.
_DELAYS = tuple(0.002 * step for step in range(-2, 16))
#: s of flight the delay is looked for on.
_LOOK = 24.0
#: A delay has to raise the line's power by this share to be taken.
_GAIN = 0.02


def mended_speed(speed: FloatArray) -> FloatArray:
    """Speed (rotors, n) with values that were held between updates put on straight lines, fill-ins for NaN.

    A row counts as held when more than half of its steps are zero.
    """
    out = np.array(speed, dtype=np.float64)
    place = np.arange(out.shape[1])
    for row in out:
        good = np.isfinite(row)
        if not good.any():
            row[:] = 0.0
            continue
        if not good.all():
            row[:] = np.interp(place, place[good], row[good])
        new = np.flatnonzero(np.diff(row)) + 1
        if 8 < new.size < 0.5 * row.size:
            known = np.concatenate(([0], new))
            row[:] = np.interp(place, known, row[known])
    return np.asarray(np.maximum(out, 0.0))


def shifted(speed: FloatArray, seconds: float, rate_hz: float) -> FloatArray:
    """Speed as it was, from speed that came ``seconds`` late."""
    if seconds == 0.0:
        return speed
    place = np.arange(speed.shape[1]) + seconds * rate_hz
    return np.stack([np.interp(place, np.arange(row.size), row) for row in speed])


def find_delay(
    signals: Mapping[str, npt.NDArray[np.floating]], speed: FloatArray, rate_hz: float, reference: float
) -> float:
    """The delay (s) of the telemetry under which the first order stands out most; 0 where none is better."""
    samples = min(speed.shape[1], round(_LOOK * rate_hz))
    start = (speed.shape[1] - samples) // 2
    part = {name: values[start : start + samples] for name, values in signals.items()}
    near = speed[:, start : start + samples]
    caught = []
    for delay in _DELAYS:
        cut = cut_stretches(part, shifted(near, delay, rate_hz), rate_hz, reference)
        caught.append(float(powers(equations(cut, 1.0)).energy.sum()))
    best = int(np.argmax(caught))
    none = _DELAYS.index(0.0)
    if caught[best] <= (1.0 + _GAIN) * caught[none] or caught[best] <= 0.0:
        return 0.0
    return _refined(caught, best)


def _refined(caught: list[float], best: int) -> float:
    """Top of the parabola through the best and its neighbours."""
    if not 0 < best < len(caught) - 1:
        return _DELAYS[best]
    left, top, right = caught[best - 1 : best + 2]
    bend = left - 2.0 * top + right
    step = _DELAYS[1] - _DELAYS[0]
    return _DELAYS[best] + (0.5 * (left - right) / bend * step if bend < 0.0 else 0.0)
