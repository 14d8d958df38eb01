"""Campbell diagram of rotating machinery: density against frequency and rotor speed, with order lines."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.frames import Frames
from asflown.core.vibration.result import CampbellMap

FloatArray = npt.NDArray[np.float64]

_BINS = 24
_LEAST = 0.4  # s flown in a bin to show it


def campbell(
    frames: Frames,
    rows: list[int],
    signal: str,
    speed: FloatArray,
    orders: tuple[float, ...],
    blades: int | None,
) -> CampbellMap | None:
    """Map of the sum of some channels.

    Parameters
    ----------
    rows
        Channels of ``frames`` to add.
    speed
        (frames,) rev/s, mean over the rotors while each frame lasted.
    """
    if speed.size == 0 or not np.isfinite(speed).any() or float(np.nanmax(speed)) <= 0.0:
        return None
    low, high = np.percentile(speed, (0.5, 99.5))
    step = max((high - low) / _BINS, frames.rate_hz / frames.length / 4.0)
    count = max(1, int(np.ceil((high - low) / step)))
    place = np.clip(((speed - low) / step).astype(np.int64), 0, count - 1)
    member = np.zeros((count, speed.size), dtype=np.float32)
    member[place, np.arange(speed.size)] = 1.0
    number = member.sum(axis=1)
    total = sum(member @ frames.power[row] for row in rows)
    seconds = number.astype(np.float64) * frames.hop / frames.rate_hz
    with np.errstate(divide="ignore", invalid="ignore"):
        density = np.asarray(total, dtype=np.float64) / number[:, None]
    density[seconds < _LEAST] = np.nan
    return CampbellMap(
        signal=signal,
        speed=low + step * (np.arange(count) + 0.5),
        frequency=frames.frequency,
        density=density,
        seconds=seconds,
        orders=orders,
        half_rate=0.5 * frames.rate_hz,
        blades=blades,
    )
