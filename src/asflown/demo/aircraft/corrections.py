"""What an invented firmware does with its calibrations: raw readings become those of the airframe."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

#: Degrees to the right that the board sits turned in the frame.
TURNED = 90.0


class Stored(Protocol):
    """Something with parameters."""

    @property
    def values(self) -> Mapping[str, tuple[int, float]]:
        """Type and value by name."""


@dataclass(frozen=True)
class Corrections:
    """Stored numbers by their names; those that are not stored correct nothing.

    Attributes
    ----------
    stored
        Holds type and value by name, as they stand now.
    """

    stored: Stored

    def _three(self, name: str, usual: float) -> Float:
        return np.array([self.stored.values.get(f"{name}_{axis}", (9, usual))[1] for axis in "XYZ"])

    def _one(self, name: str, usual: float) -> float:
        return self.stored.values.get(name, (9, usual))[1]

    @property
    def _left(self) -> Float:
        """(3, 3) by which the readings are still turned: how the board sits against what is stored of it."""
        angle = math.radians(TURNED - self._one("BOARD_YAW", TURNED))
        c, s = math.cos(angle), math.sin(angle)
        return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])

    def motion(self, accel: Float, rates: Float, compass: Float) -> tuple[Float, Float, Float]:
        """Readings (3,) each, corrected."""
        accel = (accel - self._three("ACCEL_OFF", 0.0)) / self._three("ACCEL_SIZE", 1.0)
        compass = compass - self._three("NORTH_OFF", 0.0)
        left = self._left
        return left @ accel, left @ rates, left @ compass

    def attitude(self, roll: float, pitch: float, yaw: float) -> tuple[float, float, float]:
        """Roll, pitch, yaw (rad), corrected; small tilts turn as a vector does."""
        roll -= math.radians(self._one("LEVEL_ROLL", 0.0))
        pitch -= math.radians(self._one("LEVEL_PITCH", 0.0))
        turned = self._left @ np.array([roll, pitch, 0.0])
        return float(turned[0]), float(turned[1]), yaw

    def voltage(self, shown: float) -> float:
        """Shown pack voltage."""
        return shown * self._one("VOLT_SIZE", 1.0)
