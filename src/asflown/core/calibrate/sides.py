"""The six sides an aircraft can lie on, and which comes next.

At rest an accelerometer reads gravity's reaction: it points up. Body axes x forward, y right, z down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]

#: Degrees from a side within which the aircraft lies on it.
NEAR = 20.0


@dataclass(frozen=True, slots=True)
class Side:
    """One side.

    Attributes
    ----------
    up
        (3,) which way gravity's reaction points when the aircraft lies on it.
    says
        What a person does, in words.
    """

    name: str
    up: tuple[float, float, float]
    says: str


#: In the order they are asked for: those that need no hand first.
SIDES = (
    Side("belly down", (0.0, 0.0, -1.0), "level, as it stands before take-off"),
    Side("back down", (0.0, 0.0, 1.0), "upside down"),
    Side("left side down", (0.0, 1.0, 0.0), "on its left side"),
    Side("right side down", (0.0, -1.0, 0.0), "on its right side"),
    Side("nose down", (-1.0, 0.0, 0.0), "standing on its nose"),
    Side("tail down", (1.0, 0.0, 0.0), "standing on its tail"),
)
#: Half-way between two sides: they show whether the axes stand square to each other.
BETWEEN = (
    ("belly down", "left side down"),
    ("belly down", "nose down"),
    ("left side down", "nose down"),
    ("back down", "right side down"),
    ("back down", "tail down"),
    ("right side down", "tail down"),
)
_BY_NAME = {side.name: side for side in SIDES}


def side_of(direction: Float, within: float = NEAR) -> Side | None:
    """The side a direction (3,) belongs to; ``None`` where it is further from every one.

    Examples
    --------
    >>> side_of(np.array([0.1, 0.0, -9.8])).name
    'belly down'
    """
    unit = direction / np.linalg.norm(direction)
    best = max(SIDES, key=lambda side: float(unit @ side.up))
    return best if tilt_from(direction, best) <= within else None


def tilt_from(direction: Float, side: Side) -> float:
    """Degrees between a direction (3,) and a side."""
    share = float(direction @ side.up) / float(np.linalg.norm(direction))
    return math.degrees(math.acos(min(1.0, max(-1.0, share))))


def missing(directions: Float) -> tuple[Side, ...]:
    """The sides no direction of (k, 3) lies on."""
    seen = {side.name for one in directions if (side := side_of(one)) is not None}
    return tuple(side for side in SIDES if side.name not in seen)


def still_between(directions: Float) -> tuple[tuple[Side, Side], ...]:
    """The half-way positions no direction of (k, 3) is near to."""
    left = []
    for a, b in BETWEEN:
        first, second = _BY_NAME[a], _BY_NAME[b]
        middle = (np.array(first.up) + second.up) / math.sqrt(2.0)
        if not any(
            float(one @ middle) / np.linalg.norm(one) > math.cos(math.radians(NEAR)) for one in directions
        ):
            left.append((first, second))
    return tuple(left)
