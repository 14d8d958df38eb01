"""A person's hands with the aircraft on the bench: they lay it on its sides, turn and tilt it, move sticks.

Held still a hand is not square: it is off by a degree or three, and on the way from one side to the next the
aircraft swings. Propellers are off; its rotors stand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.demo.aircraft.body import GRAVITY, RATES, TURN, Body, at_rest, matrix

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

#: s on the way from one position to the next.
ON_THE_WAY = 2.0
#: Roll, pitch, yaw in degrees of the six sides, in the order in which a person is asked for them.
SIDES = ((0, 0, 0), (180, 0, 0), (-90, 0, 0), (90, 0, 0), (0, -90, 0), (0, 90, 0))
BETWEEN = ((45, 0, 0), (-45, 0, 0), (0, 45, 0), (0, -45, 0), (90, 45, 0), (-90, 45, 0))
#: As the card of the board's orientation asks: right side down, nose up, nose right, level.
LEANS = ((30, 0, 0), (0, 30, 0), (0, 0, 0), (0, 0, 35), (0, 0, 0))


@dataclass(frozen=True)
class Pose:
    """A position that is held: roll, pitch, yaw in degrees; s."""

    degrees: tuple[float, float, float]
    seconds: float


@dataclass
class Hands:
    """An aircraft that is held; the last position is held for ever.

    Attributes
    ----------
    poses
        One after the other.
    tremble
        Degrees, at most, that a held position is off.
    """

    poses: Sequence[Pose]
    tremble: float = 2.5
    seed: int = 5
    body: Body = field(default_factory=Body)

    def __post_init__(self) -> None:
        numbers = np.random.default_rng((self.seed, 1))
        self._held = []
        begin = 0.0
        for pose in self.poses:
            off = self.tremble * (2 * numbers.random(3) - 1) * [1, 1, 0]
            turn = _quaternion(np.radians(np.array(pose.degrees) + off))
            self._held.append((begin, begin + pose.seconds, turn))
            begin += pose.seconds + ON_THE_WAY
        self._before = (0.0, self._held[0][2])
        self.body.state = at_rest()
        self.to(0.0)

    @property
    def seconds(self) -> float:
        """S until the last position was held."""
        return self._held[-1][1]

    def to(self, now: float) -> None:
        """Go on until so many seconds."""
        turn = self._turn(now)
        ahead = self._turn(now + 0.005)
        rates = 2 * _times(_conjugate(turn), (ahead - turn) / 0.005)[1:]
        self.body.state[TURN], self.body.state[RATES] = turn, rates
        down = matrix(turn).T @ [0.0, 0.0, GRAVITY]
        swing = self._swing(now)
        self.body.force = -down + swing

    def _turn(self, now: float) -> Float:
        before = self._held[0][2]
        for begin, end, turn in self._held:
            if now < begin:
                share = (now - (begin - ON_THE_WAY)) / ON_THE_WAY
                return _between(before, turn, 0.5 - 0.5 * math.cos(math.pi * min(1.0, max(0.0, share))))
            if now <= end:
                return turn
            before = turn
        return before

    def _swing(self, now: float) -> Float:
        """m/s2 of a hand that carries it to the next position."""
        if any(begin <= now <= end for begin, end, _ in self._held) or now > self.seconds:
            return np.zeros(3)
        return np.array([math.sin(9.1 * now), math.sin(7.3 * now + 1), 0.7 * math.sin(11.7 * now + 2)])


@dataclass
class Turned:
    """An aircraft that a person turns slowly about every axis, outdoors."""

    body: Body = field(default_factory=Body)
    seconds: float = 60.0

    def to(self, now: float) -> None:
        """Go on until so many seconds: nose to tail, while the axis it turns about wanders."""
        turn = _quaternion(self._angles(now))
        ahead = _quaternion(self._angles(now + 0.005))
        if float(turn @ ahead) < 0:
            ahead = -ahead
        self.body.state[TURN] = turn
        self.body.state[RATES] = 2 * _times(_conjugate(turn), (ahead - turn) / 0.005)[1:]
        self.body.force = -(matrix(turn).T @ [0.0, 0.0, GRAVITY])

    def _angles(self, now: float) -> Float:
        return np.array([1.13 * now, 1.35 * math.sin(0.37 * now), 0.53 * now])


def six_sides(seconds: float = 12.0, *, between: bool = False) -> tuple[Pose, ...]:
    """The aircraft on each side in turn; with ``between`` half-way between some of them too."""
    places = (*SIDES, *BETWEEN) if between else SIDES
    return tuple(Pose(one, seconds) for one in places)


def half_turn(seconds: float = 14.0) -> tuple[Pose, ...]:
    """On a table that slopes, before and after half a turn."""
    return (Pose((0.7, 1.1, 0.0), seconds), Pose((-0.7, -1.1, 180.0), seconds))


def leans(seconds: float = 5.0) -> tuple[Pose, ...]:
    """As the card of the board's orientation asks."""
    return tuple(Pose(one, seconds) for one in LEANS)


def sticks(now: float, jitter: Float) -> Float:
    """Eight channels in microseconds: each stick to both ends and back, one after the other, then at rest.

    Parameters
    ----------
    jitter
        (8,) standard normal numbers.
    """
    rest = np.array([1502.0, 1497.0, 1012.0, 1505.0, 1000.0, 1500.0, 988.0, 988.0])
    reach = np.array([495.0, 492.0, 0.0, 498.0, 0.0, 0.0, 0.0, 0.0])
    made = rest.copy()
    which, within = divmod(now % 40.0, 8.0)
    stick = int(which)
    if stick in (0, 1, 3) and within < 4.0:
        made[stick] += reach[stick] * math.sin(math.pi / 2 * within)
    elif stick == 2:
        made[2] = 1012.0 + 976.0 * (0.5 - 0.5 * math.cos(2 * math.pi * within / 8.0))
    elif stick == 4:
        made[4] = 1000.0 if within < 3.0 else 1500.0 if within < 5.5 else 2000.0
    made[:6] += 0.8 * jitter[:6]
    return np.asarray(np.rint(made))


def _quaternion(turned: Float) -> Float:
    roll, pitch, yaw = (0.5 * float(one) for one in turned)
    cr, sr, cp, sp = math.cos(roll), math.sin(roll), math.cos(pitch), math.sin(pitch)
    cy, sy = math.cos(yaw), math.sin(yaw)
    return np.array(
        [
            cr * cp * cy + sr * sp * sy,
            sr * cp * cy - cr * sp * sy,
            cr * sp * cy + sr * cp * sy,
            cr * cp * sy - sr * sp * cy,
        ]
    )


def _conjugate(turn: Float) -> Float:
    return np.asarray(turn * np.array([1.0, -1.0, -1.0, -1.0]))


def _times(a: Float, b: Float) -> Float:
    w, x, y, z = a
    return np.array(
        [
            w * b[0] - x * b[1] - y * b[2] - z * b[3],
            w * b[1] + x * b[0] + y * b[3] - z * b[2],
            w * b[2] - x * b[3] + y * b[0] + z * b[1],
            w * b[3] + x * b[2] - y * b[1] + z * b[0],
        ]
    )


def _between(one: Float, two: Float, share: float) -> Float:
    """The shortest way from one attitude to another (slerp)."""
    cosine = float(one @ two)
    if cosine < 0:
        two, cosine = -two, -cosine
    if cosine > 0.9999:
        made = one + share * (two - one)
        return np.asarray(made / np.linalg.norm(made))
    angle = math.acos(min(1.0, cosine))
    made = (math.sin((1 - share) * angle) * one + math.sin(share * angle) * two) / math.sin(angle)
    return np.asarray(made)
