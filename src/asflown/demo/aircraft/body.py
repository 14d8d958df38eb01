"""The rigid body of a quadrotor with its rotors, in six degrees of freedom.

Axes as in ISO 1151: x forward, y right, z down; the ground is flat, z of the place down. Newton and Euler's
equations, rotors as first-order lags of their speed with thrust by the square of it, their drag, their own
angular momentum; the air's drag by the square of the speed. Integrated by the classical Runge-Kutta method.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

#: s of one step; m/s2; places in the state: position, velocity, attitude, rates, rotor speeds.
STEP, GRAVITY = 0.001, 9.80665
PLACE, SPEED, TURN, RATES, ROTORS = slice(0, 3), slice(3, 6), slice(6, 10), slice(10, 13), slice(13, 17)


@dataclass(frozen=True)
class Frame:
    """What a quadrotor is made of; every figure invented.

    Attributes
    ----------
    mass, inertia
        kg; kg m2 about its three axes.
    arms
        (4, 2) m: where the rotors stand, forward and right.
    spins
        1 where a rotor turns to the right seen from above, -1 to the left.
    lift, torque
        N/(rad/s)2 of a rotor; m: its drag torque over its lift.
    rotor_inertia, lag, fastest
        kg m2; s; rad/s at full command.
    drag
        N/(m/s)2 along each axis.
    """

    mass: float = 0.94
    inertia: tuple[float, float, float] = (0.0061, 0.0072, 0.0118)
    arms: tuple[tuple[float, float], ...] = ((0.11, 0.12), (-0.11, 0.12), (-0.11, -0.12), (0.11, -0.12))
    spins: tuple[float, ...] = (-1.0, 1.0, -1.0, 1.0)
    lift: float = 2.1e-6
    torque: float = 0.014
    rotor_inertia: float = 2.2e-5
    lag: float = 0.028
    fastest: float = 2500.0
    drag: tuple[float, float, float] = (0.045, 0.045, 0.07)

    @property
    def hover(self) -> float:
        """Command at which the rotors carry it."""
        return math.sqrt(self.mass * GRAVITY / (4 * self.lift)) / self.fastest

    def numbers(self) -> Float:
        """All of it in one row, as the compiled step reads it."""
        row = [self.mass, *self.inertia, *(x for arm in self.arms for x in arm), *self.spins]
        return np.array(
            [*row, self.lift, self.torque, self.rotor_inertia, self.lag, self.fastest, *self.drag],
            dtype=np.float64,
        )


def at_rest() -> Float:
    """The state of an aircraft that stands on the ground, facing north."""
    state = np.zeros(17)
    state[6] = 1.0
    return state


@dataclass
class Body:
    """A quadrotor that moves.

    Attributes
    ----------
    state
        (17,) place (m, north, east, down), speed (m/s), attitude (quaternion), rates (rad/s), rotors (rad/s).
    force
        (3,) specific force at the last step, m/s2, as a perfect sensor in its centre reads it.
    phases
        (4,) rad that the rotors have turned.
    """

    frame: Frame = field(default_factory=Frame)
    state: Float = field(default_factory=at_rest)
    on_ground: bool = True

    def __post_init__(self) -> None:
        self.force = np.array([0.0, 0.0, -GRAVITY])
        self.phases = np.zeros(4)
        self._numbers = self.frame.numbers()

    def step(self, commands: Float, seconds: float = STEP) -> None:
        """One step with the commands (4,) of its rotors, 0 to 1."""
        advance = _compiled()
        ground = 1.0 if self.on_ground else 0.0
        self.force = advance(self.state, np.clip(commands, 0.0, 1.0), self._numbers, seconds, ground)
        self.phases = np.mod(self.phases + self.state[ROTORS] * seconds, 2 * math.pi)


def matrix(turn: Float) -> Float:
    """(3, 3) that turns a vector of the body into the place's, of a unit quaternion."""
    w, x, y, z = turn
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def angles(turn: Float) -> tuple[float, float, float]:
    """Roll, pitch, yaw in rad, of a unit quaternion (ISO 1151: yaw first, then pitch, then roll)."""
    m = matrix(turn)
    return (
        math.atan2(m[2, 1], m[2, 2]),
        -math.asin(max(-1.0, min(1.0, m[2, 0]))),
        math.atan2(m[1, 0], m[0, 0]),
    )


_made: list[Callable[..., Any]] = []


def _compiled() -> Callable[..., Any]:
    if not _made:
        from asflown.demo.aircraft.equations import advance

        _made.append(advance)
    return _made[0]
