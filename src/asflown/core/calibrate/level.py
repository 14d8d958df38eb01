"""Level trim by a half turn: what the table's slope adds before the turn it takes away after it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured
from asflown.core.signal.mean_error import Means, means_of, student

Float = npt.NDArray[np.float64]


@dataclass(frozen=True)
class LevelTrim:
    """What the accelerometer's frame is turned by against the airframe's own level, rad.

    Attributes
    ----------
    roll, pitch
        With 95 % intervals from the readings' noise.
    slope
        rad that the table slopes.
    """

    roll: Measured
    pitch: Measured
    slope: float


def tilt(mean: Float) -> tuple[float, float]:
    """Roll and pitch, rad, of a specific force (3,) at rest, body axes x forward, y right, z down.

    At rest level the specific force is (0, 0, -g).

    Examples
    --------
    >>> roll, pitch = tilt(np.array([0.0, 0.0, -9.81]))
    >>> abs(roll), abs(pitch)
    (0.0, 0.0)
    """
    roll = math.atan2(-mean[1], -mean[2])
    pitch = math.atan2(mean[0], math.hypot(mean[1], mean[2]))
    return roll, pitch


def level_trim(first: Float, second: Float, rate_hz: float) -> LevelTrim:
    """Trim from two rests on one table, the aircraft turned by half a turn about the vertical in between.

    Parameters
    ----------
    first, second
        (3, n) specific force before and after the turn, m/s2.

    Raises
    ------
    ValueError
        For rests that are too short, or not near level (more than 10 degrees).
    """
    means = [means_of(one, one.shape[1] / rate_hz) for one in (first, second)]
    tilts = [tilt(one.value) for one in means]
    if any(abs(angle) > math.radians(10) for pair in tilts for angle in pair):
        raise ValueError("the aircraft lies more than 10 degrees off level: use a level table")
    (roll_1, pitch_1), (roll_2, pitch_2) = tilts
    halves = [_half(means, axis) for axis in (1, 0)]
    roll, pitch = (roll_1 + roll_2) / 2, (pitch_1 + pitch_2) / 2
    slope = math.hypot((roll_1 - roll_2) / 2, (pitch_1 - pitch_2) / 2)
    route = "mean of two rests half a turn apart"
    return LevelTrim(
        Measured(roll, roll - halves[0], roll + halves[0], "rad", route),
        Measured(pitch, pitch - halves[1], pitch + halves[1], "rad", route),
        slope,
    )


def _half(means: list[Means], axis: int) -> float:
    """Half the 95 % interval of the mean tilt about one axis, rad (small angles: force over gravity).

    Degrees of freedom by Welch and Satterthwaite (JCGM 100:2008, G.4).
    """
    squares = [(float(one.error[axis]) / float(np.linalg.norm(one.value))) ** 2 for one in means]
    spread = sum(square**2 / one.dof for square, one in zip(squares, means, strict=True))
    if spread == 0:
        return 0.0
    return student(sum(squares) ** 2 / spread) * math.sqrt(sum(squares)) / 2
