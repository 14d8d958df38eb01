"""Orders of a rotor: frequency, folding at half the log rate, and the angle integrated from speed.

Order k lies at k times the rotor speed; blade pass is the order of the number of blades: ``blades * rpm /
60`` Hz (common practice, no source). A frequency above half the log rate is seen folded (check-values
section 16).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.result import AliasFact

FloatArray = npt.NDArray[np.float64]

#: A line within this share below half the log rate is told of.
_NEAR = 0.9


def folded(frequency: npt.ArrayLike, rate_hz: float) -> FloatArray:
    """Where frequencies (Hz) show in a log of ``rate_hz`` samples a second.

    Examples
    --------
    >>> float(folded(1100.0, 2000.0)), float(folded(1300.0, 1000.0))
    (900.0, 300.0)
    """
    wrapped = np.mod(np.asarray(frequency, dtype=np.float64), rate_hz)
    return np.asarray(np.minimum(wrapped, rate_hz - wrapped))


def blade_pass(speed: float, blades: int) -> float:
    """Hz of the blades of a rotor at ``speed`` rev/s passing a point.

    Examples
    --------
    >>> blade_pass(9000.0 / 60.0, 2)
    300.0
    """
    return blades * speed


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
        facts.append(AliasFact(order, frequency, seen, above, _told(order, frequency, seen, above, rate_hz)))
    return tuple(facts)


def _told(order: float, frequency: float, seen: float, above: float, rate_hz: float) -> str:
    return (
        f"order {order:g} (mean {frequency:.0f} Hz) lies above {_NEAR:.0%} of half the log rate for "
        f"{above:.0%} of the "
        f"time and shows folded (its mean at {seen:.0f} Hz); log at {2.4 * frequency:.0f} Hz or more, "
        f"or filter before "
        "logging"
    )
