"""Rotor speed as telemetry gives it (held between updates, late, in steps) made good as far as data tell."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.floating]

#: s, delays tried.
DELAYS = tuple(0.004 * step for step in range(-1, 9))
#: A delay has to raise the share of power by so many standard errors to be taken.
_SURE = 5.0


def mended_speed(speed: Numbers) -> FloatArray:
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
        new = np.flatnonzero(row[1:] != row[:-1]) + 1
        if 8 < new.size < 0.5 * row.size:
            known = np.concatenate(([0], new))
            row[:] = np.interp(place, known, row[known])
    return np.asarray(np.maximum(out, 0.0))


def shifted(speed: Numbers, seconds: float, rate_hz: float) -> npt.NDArray[np.float32]:
    """Speed (…, n) as it was, from speed that came ``seconds`` late."""
    rows = speed.reshape(-1, speed.shape[-1])
    place = np.arange(rows.shape[1])
    late = place + seconds * rate_hz
    moved = np.stack([np.interp(late, place, row) for row in rows])
    return moved.reshape(speed.shape).astype(np.float32)


def chosen_delay(caught: FloatArray) -> float:
    """The delay (s) of those tried that caught most power; 0 where none is surely better.

    Parameters
    ----------
    caught
        (delays, blocks): power the line's terms caught in each block of flight. Each block counts alike, so
        that a hard manoeuvre does not decide.
    """
    total = caught.sum(axis=0)
    shares = caught[:, total > 0.0] / total[total > 0.0]
    if shares.shape[1] < 8:
        return 0.0
    mean = shares.mean(axis=1)
    best, none = int(mean.argmax()), DELAYS.index(0.0)
    gain = shares[best] - shares[none]
    if best == none or gain.mean() <= _SURE * gain.std() / np.sqrt(gain.size):
        return 0.0
    if not 0 < best < mean.size - 1:
        return DELAYS[best]
    left, top, right = (float(part) for part in mean[best - 1 : best + 2])
    bend = left - 2.0 * top + right
    step = DELAYS[1] - DELAYS[0]
    return DELAYS[best] + (0.5 * (left - right) / bend * step if bend < 0.0 else 0.0)
