"""The loop-amplified floor: what is left between the lines."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.vibration.levels import unit_of
from asflown.core.vibration.result import Density, Floor

FloatArray = npt.NDArray[np.float64]

WORDS = (
    "loop-amplified floor: noise as the closed loop shows it, gyro noise, air and what the rate loop "
    "makes of them; "
    "near its crossover the loop raises it, so it is not sensor noise (for that, log on the ground, "
    "motors off)"
)


def floor_of(
    spectrum: Density, low: float, high: float, lines: tuple[tuple[float, float], ...] = ()
) -> Floor:
    """Root density between ``low`` and ``high`` Hz, bins inside ``lines`` (from, to; Hz) left out.

    The median over bins, so that a narrow line does not count; the interval from the spread between bins
    and from each bin's own.
    """
    inside = (spectrum.frequency >= low) & (spectrum.frequency <= high)
    for start, end in lines:
        inside &= ~((spectrum.frequency >= start) & (spectrum.frequency <= end))
    unit = f"{unit_of(spectrum.signal)}/rtHz"
    density, averages = spectrum.density[inside], spectrum.averages[inside]
    if density.size < 5 or not np.all(density > 0.0):
        reason = (
            f"fewer than five bins without rotor lines between {low:g} and {high:g} Hz; log at a higher rate"
        )
        return Floor(spectrum.signal, low, high, unmeasured(reason, unit), WORDS)
    order = np.sort(np.log(density))
    middle = float(np.median(order))
    half = 1.96 * 0.5 * math.sqrt(order.size)  # ranks of the interval of a median (binomial, normal)
    first = max(0, math.floor(0.5 * order.size - half))
    last = min(order.size - 1, math.ceil(0.5 * order.size + half))
    own = 1.96 / math.sqrt(float(averages.mean()) * order.size / 1.5)
    low_end, high_end = min(float(order[first]), middle - own), max(float(order[last]), middle + own)
    level = Measured(
        math.exp(0.5 * middle),
        math.exp(0.5 * low_end),
        math.exp(0.5 * high_end),
        unit,
        "median between lines",
    )
    return Floor(spectrum.signal, low, high, level, WORDS)
