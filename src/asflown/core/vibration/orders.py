"""Orders of a rotor: those that fold at half the log rate, and the angle integrated from speed.

Order k lies at k times the rotor speed; blade pass is the order of the number of blades: ``blades * rpm /
60`` Hz (common practice, no source). A frequency above half the log rate is seen folded (check-values
section 16).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.signal.aliasing import folded
from asflown.core.vibration.result import AliasFact

#: A line within this share below half the log rate is told of.
_NEAR = 0.9


def angle_of(speed: npt.NDArray[np.floating], rate_hz: float) -> npt.NDArray[np.float32]:
    """Angle (rotors, n), revolutions without whole turns, from speed (rotors, n) rev/s by trapezoids."""
    angle = np.cumsum(speed, axis=1, dtype=np.float64)
    angle -= 0.5 * speed
    angle /= rate_hz
    angle -= np.floor(angle)
    return angle.astype(np.float32)


def alias_facts(
    speed: npt.NDArray[np.floating], rate_hz: float, orders: tuple[float, ...]
) -> tuple[AliasFact, ...]:
    """What orders come near or above half the log rate.

    Parameters
    ----------
    speed
        rev/s, any shape.
    """
    facts = []
    for order in orders:
        frequency = order * float(speed.mean())
        above = float(np.mean(order * speed > _NEAR * 0.5 * rate_hz))
        if above <= 0.0:
            continue
        seen = float(folded(frequency, rate_hz))
        facts.append(AliasFact(order, frequency, seen, above, _told(order, frequency, seen, above)))
    return tuple(facts)


def _told(order: float, frequency: float, seen: float, above: float) -> str:
    return (
        f"order {order:g} (mean {frequency:.0f} Hz) lies above {_NEAR:.0%} of half the log rate for "
        f"{above:.0%} of the "
        f"time and shows folded (its mean at {seen:.0f} Hz); log at {2.4 * frequency:.0f} Hz or more, "
        f"or filter before "
        "logging"
    )
