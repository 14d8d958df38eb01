"""Parameters of a simulated multirotor: rotors, body, frame, battery, sensors and air."""

from __future__ import annotations

import math
from dataclasses import dataclass

Triple = tuple[float, float, float]
Rows = tuple[tuple[float, ...], ...]

#: Shares of (roll, pitch, yaw) in each of four motors.
QUAD_MIXER: Rows = ((-1.0, 1.0, -1.0), (-1.0, -1.0, 1.0), (1.0, 1.0, 1.0), (1.0, -1.0, -1.0))


def mixer_of(motors: int = 4) -> Rows:
    """Share of each axis command in each motor: ``motors`` rows of (roll, pitch, yaw).

    Four motors stand in a cross at 45 degrees (right front, right back, left front, left back, the first
    turning against the second); more stand evenly on a circle and turn in alternate directions.

    Raises
    ------
    ValueError
        For fewer than four motors or an odd number.
    """
    if motors < 4 or motors % 2:
        raise ValueError(f"{motors} motors: an even number of four or more is simulated")
    if motors == 4:
        return QUAD_MIXER
    rows = []
    for number in range(motors):
        angle = 2.0 * math.pi * (number + 0.5) / motors
        rows.append((-math.sin(angle), math.cos(angle), 1.0 if number % 2 else -1.0))
    return tuple(rows)


@dataclass(frozen=True, slots=True)
class FrameMode:
    """A flexible mode of the frame seen by the gyro.

    The measured rate gains ``participation * s / (s^2 + 2 damping w s + w^2)`` times the angular acceleration
    the rotors ask for.

    Attributes
    ----------
    frequency
        Hz, commonly 50 to 120 (common practice, no source).
    """

    frequency: float
    damping: float
    participation: float


@dataclass(frozen=True, slots=True)
class Battery:
    """A pack: ``V = open-circuit(charge) - current * resistance``.

    Attributes
    ----------
    full, empty
        Open-circuit V at full charge and at the knee before the voltage falls away.
    capacity
        As.
    full_current
        A with all motors at full thrust at ``full``.
    """

    full: float = 16.8
    empty: float = 14.0
    capacity: float = 1.3 * 3600.0
    resistance: float = 0.02
    full_current: float = 90.0
    idle_current: float = 0.5


@dataclass(frozen=True, slots=True)
class Air:
    """Disturbing angular acceleration.

    Attributes
    ----------
    turbulence
        rad/s^2 rms per axis, low-passed at ``bandwidth`` Hz, ``order`` 1 or 2.
    wake
        rad/s^2 rms of the rotor wake in hard manoeuvres and falling throttle, low-passed at
        ``wake_bandwidth`` Hz; in calm flight a tenth of it.
    """

    turbulence: Triple = (1.0, 1.0, 0.4)
    bandwidth: float = 1.5
    order: int = 1
    wake: Triple = (0.0, 0.0, 0.0)
    wake_bandwidth: float = 12.0


@dataclass(frozen=True, slots=True)
class Airframe:
    """Everything about the aircraft that is not its controller.

    Thrust of motor i, as a share of full thrust at ``reference_voltage``:
    ``strength_i * lag(m * V / reference_voltage)^exponent``, the lag standing on
    ``(m V / V0)^command_exponent`` (so ``command_exponent=1, thrust_exponent=2`` is a lag on rotor speed and
    thrust with its square).

    Attributes
    ----------
    gain
        rad/s^2 per unit of axis command, at unit slope of the thrust curve (roll, pitch, yaw).
    damping
        1/s, aerodynamic.
    lag_up, lag_down
        s, first-order lag of a rotor while it speeds up and slows down.
    strength
        Thrust of each motor against nominal.
    effect
        Three rows (roll, pitch, yaw) by motor: axis command equivalent of the thrusts, commonly the
        pseudo-inverse of the mixer; ``None``: that.
    reaction_lead
        s, lead the rotor-inertia reaction gives the yaw torque.
    delay
        s, pure delay between command and rotor.
    hover
        Share of full thrust in hover.
    rotor_speed_full
        rev/s at full thrust.
    vibration, harmonic
        rad/s of gyro vibration by each rotor at full speed, and the second harmonic's share of it.
    accel_vibration
        m/s^2 by each rotor at full speed.
    gyro_noise, accel_noise
        rad/s/rtHz and m/s^2/rtHz, white.
    accel_limit
        m/s^2 where the accelerometer clips.
    """

    gain: Triple = (400.0, 350.0, 80.0)
    damping: Triple = (0.8, 0.8, 0.5)
    lag_up: float = 0.025
    lag_down: float = 0.025
    command_exponent: float = 1.0
    thrust_exponent: float = 1.0
    strength: tuple[float, ...] = (1.0, 1.0, 1.0, 1.0)
    effect: Rows | None = None
    reaction_lead: float = 0.0
    delay: float = 0.001
    frame: tuple[FrameMode | None, FrameMode | None, FrameMode | None] = (None, None, None)
    hover: float = 0.3
    reference_voltage: float = 16.0
    rotor_speed_full: float = 400.0
    vibration: tuple[float, ...] = (0.05, 0.05, 0.05, 0.05)
    harmonic: float = 0.4
    accel_vibration: float = 10.0
    gyro_noise: float = math.radians(0.01)
    accel_noise: float = 0.002
    accel_limit: float = 16.0 * 9.80665
    battery: Battery = Battery()
    air: Air = Air()

    @property
    def motors(self) -> int:
        """How many."""
        return len(self.strength)

    @property
    def exponent(self) -> float:
        """Of the steady thrust curve: 1 linear, 2 quadratic."""
        return self.command_exponent * self.thrust_exponent
