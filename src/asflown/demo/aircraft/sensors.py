"""Sensors with their errors: bias, gain, axes that lean, noise, vibration, iron; every figure invented."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.demo.aircraft.body import ROTORS, Body, angles, matrix

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]


def _turned(degrees: tuple[float, float, float]) -> Float:
    """(3, 3) turn by small angles about x, y, z."""
    x, y, z = (math.radians(one) for one in degrees)
    about_x = np.array([[1, 0, 0], [0, math.cos(x), -math.sin(x)], [0, math.sin(x), math.cos(x)]])
    about_y = np.array([[math.cos(y), 0, math.sin(y)], [0, 1, 0], [-math.sin(y), 0, math.cos(y)]])
    about_z = np.array([[math.cos(z), -math.sin(z), 0], [math.sin(z), math.cos(z), 0], [0, 0, 1]])
    return np.asarray(about_z @ about_y @ about_x)


@dataclass(frozen=True, eq=False)
class Sensors:
    """What stands between the aircraft and its numbers.

    Attributes
    ----------
    accel_offset, accel_gain
        m/s2; (3, 3): a reading is gain times the specific force, plus the offset.
    gyro_bias, gyro_warming
        rad/s at 20 degrees Celsius; rad/s a kelvin.
    accel_noise, gyro_noise, mag_noise
        Standard deviation of a sample.
    shaking, turning
        m/s2 and rad/s of vibration with every rotor at full speed, by the square of it.
    trim
        Degrees that the airframe's own level is off the sensor's.
    iron, soft, north
        microtesla of hard iron; (3, 3) soft iron; the field of the place, north, east, down.
    voltage, current
        Scale and offset of what is shown against what is.
    """

    accel_offset: tuple[float, float, float] = (0.18, -0.12, 0.27)
    accel_gain: Float = field(
        default_factory=lambda: np.array(
            [[1.009, 0.0030, -0.0020], [0.0030, 0.993, 0.0040], [-0.0020, 0.0040, 1.013]]
        )
    )
    gyro_bias: tuple[float, float, float] = (0.0087, -0.0052, 0.0031)
    gyro_warming: tuple[float, float, float] = (2.1e-4, -1.4e-4, 0.6e-4)
    accel_noise: float = 0.02
    gyro_noise: float = 0.0012
    mag_noise: float = 0.25
    shaking: float = 7.0
    turning: float = 0.12
    trim: tuple[float, float, float] = (0.9, -1.3, 0.0)
    iron: tuple[float, float, float] = (11.0, -7.5, 19.0)
    soft: Float = field(
        default_factory=lambda: np.array([[1.06, 0.03, 0.0], [0.03, 0.97, -0.02], [0.0, -0.02, 1.02]])
    )
    north: tuple[float, float, float] = (18.6, 0.9, 45.4)
    voltage: tuple[float, float] = (0.985, 0.06)
    current: tuple[float, float] = (1.04, 0.15)

    @property
    def mounted(self) -> Float:
        """(3, 3) from the airframe's axes into the sensor's."""
        return _turned(self.trim).T

    def motion(
        self, body: Body, temperature: float, numbers: np.random.Generator
    ) -> tuple[Float, Float, Float]:
        """Specific force (m/s2), rates (rad/s) and magnetic field (uT), (3,) each, of this moment."""
        speeds = body.state[ROTORS] / body.frame.fastest
        wave = speeds**2 * np.sin(body.phases)
        shaken = self.shaking * np.array([wave.sum(), (wave * [1, -1, 1, -1]).sum(), 1.6 * wave.sum()]) / 4
        twisted = self.turning * np.array([wave[0] - wave[2], wave[1] - wave[3], 0.3 * wave.sum()]) / 2
        mounted = self.mounted
        force = mounted @ (body.force + shaken)
        accel = self.accel_gain @ force + self.accel_offset + self.accel_noise * numbers.standard_normal(3)
        drift = np.array(self.gyro_warming) * (temperature - 20.0)
        rates = mounted @ (body.state[10:13] + twisted) + self.gyro_bias + drift
        rates = rates + self.gyro_noise * numbers.standard_normal(3)
        field_here = matrix(body.state[6:10]).T @ np.array(self.north)
        compass = self.soft @ field_here + self.iron + self.mag_noise * numbers.standard_normal(3)
        return accel, rates, compass

    def attitude(self, body: Body) -> tuple[float, float, float]:
        """Roll, pitch, yaw, rad, as the aircraft itself believes them: its level trim is in them."""
        roll, pitch, yaw = angles(body.state[6:10])
        return roll + math.radians(self.trim[0]), pitch + math.radians(self.trim[1]), yaw

    def electric(self, volts: float, amperes: float) -> tuple[float, float]:
        """Shown voltage and current."""
        return (
            (volts - self.voltage[1]) / self.voltage[0],
            (amperes - self.current[1]) / self.current[0],
        )


#: A sensor without any error, to hold the body against.
PERFECT = Sensors(
    accel_offset=(0.0, 0.0, 0.0),
    accel_gain=np.eye(3),
    gyro_bias=(0.0, 0.0, 0.0),
    gyro_warming=(0.0, 0.0, 0.0),
    accel_noise=0.0,
    gyro_noise=0.0,
    mag_noise=0.0,
    shaking=0.0,
    turning=0.0,
    trim=(0.0, 0.0, 0.0),
    iron=(0.0, 0.0, 0.0),
    soft=np.eye(3),
    voltage=(1.0, 0.0),
    current=(1.0, 0.0),
)
