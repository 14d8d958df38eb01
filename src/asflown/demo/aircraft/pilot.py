"""A person flies the simulated aircraft: off the ground, to and fro, down again. Only there rotors turn."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.demo.aircraft.body import GRAVITY, STEP, Body, angles, matrix

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

#: m it hovers at; s on the ground before, of the whole flight.
HEIGHT, BEFORE, WHOLE = 3.0, 3.0, 60.0


@dataclass
class Flight:
    """A flight of its own controller, on the stick of a script; gusts turn it about."""

    body: Body = field(default_factory=Body)
    seed: int = 9
    seconds: float = WHOLE

    def __post_init__(self) -> None:
        self._now = 0.0
        self._commands = np.zeros(4)
        self._held = np.zeros(3)
        self._lift = 0.0
        self._gusts = np.random.default_rng((self.seed, 2))
        self._gust = np.zeros(3)
        arms = np.array(self.body.frame.arms)
        spins = np.array(self.body.frame.spins)
        # share of each rotor in roll, pitch and yaw
        self._mixer = np.column_stack([-arms[:, 1] / 0.12, arms[:, 0] / 0.11, -spins]) / 4

    @property
    def is_armed(self) -> bool:
        """Whether its rotors may turn now."""
        return BEFORE - 1.0 <= self._now < self.seconds - 2.0

    @property
    def throttle(self) -> float:
        """Mean command of its rotors."""
        return float(self._commands.mean())

    def to(self, now: float) -> None:
        """Go on until so many seconds."""
        while self._now < now:
            if round(self._now / STEP) % 2 == 0:
                self._commands = self._control(2 * STEP)
            self._blow()
            self.body.step(self._commands)
            self._now += STEP

    def _blow(self) -> None:
        keep = math.exp(-STEP / 0.4)
        drive = self._gusts.standard_normal(3) * math.sqrt(1 - keep**2)
        self._gust = keep * self._gust + drive
        if self.body.state[2] < -0.2:
            self.body.state[10:13] += STEP * np.array([1.4, 1.4, 0.3]) * self._gust

    def _wanted(self) -> tuple[float, float, float, float]:
        """Roll, pitch (rad), yaw rate (rad/s), height (m) of the script."""
        at = self._now - BEFORE
        if at < 8.0 or at > self.seconds - BEFORE - 10.0:
            down = self.seconds - BEFORE - 10.0
            height = HEIGHT * min(1.0, at / 3.0) if at < 8.0 else max(-0.5, HEIGHT - 0.6 * (at - down))
            return 0.0, 0.0, 0.0, height
        part = int(at - 8.0) % 6
        sign = 1.0 if int((at - 8.0) / 6) % 2 == 0 else -1.0
        tilt = math.radians(18.0) * sign
        return (
            (tilt if part in (0, 3) else 0.0) * (1 if part == 0 else -1),
            (tilt if part in (1, 4) else 0.0) * (1 if part == 1 else -1),
            0.8 * sign if part in (2, 5) else 0.0,
            HEIGHT,
        )

    def _homewards(self, heading: float) -> tuple[float, float]:
        """Roll and pitch (rad) that bring it back to where it rose."""
        state = self.body.state
        north, east = -0.025 * state[0] - 0.06 * state[3], -0.025 * state[1] - 0.06 * state[4]
        ahead = math.cos(heading) * north + math.sin(heading) * east
        right = -math.sin(heading) * north + math.cos(heading) * east
        return float(np.clip(right, -0.2, 0.2)), float(np.clip(-ahead, -0.2, 0.2))

    def _control(self, dt: float) -> Float:
        if not self.is_armed:
            self._held[:] = 0.0
            return np.zeros(4)
        roll, pitch, turn, height = self._wanted()
        state = self.body.state
        is_roll, is_pitch, heading = angles(state[6:10])
        back_roll, back_pitch = self._homewards(heading)
        roll, pitch = roll + back_roll, pitch + back_pitch
        wanted = np.array([8.0 * (roll - is_roll), 8.0 * (pitch - is_pitch), turn])
        off = wanted - state[10:13]
        if state[2] < -0.1:
            self._held = np.clip(self._held + dt * np.array([0.25, 0.25, 0.3]) * off, -0.1, 0.1)
        output = np.array([0.075, 0.085, 0.18]) * off + self._held
        climb = np.clip(1.2 * (height + state[2]), -0.6, 1.0) + state[5]
        self._lift = float(np.clip(self._lift + dt * 0.3 * climb, -0.1, 0.1))
        upright = max(0.5, float(matrix(state[6:10])[2, 2]))
        lift = (
            self.body.frame.hover * math.sqrt(max(0.05, (1 + (3.0 / GRAVITY) * climb) / upright)) + self._lift
        )
        return np.clip(lift + self._mixer @ output * 4, 0.04, 1.0)
