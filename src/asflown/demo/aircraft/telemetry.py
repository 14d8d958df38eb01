"""What the simulated aircraft tells of itself, packed by the reference library alone."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from pymavlink.dialects.v20 import common

from asflown.demo.aircraft.body import GRAVITY, Body
from asflown.demo.aircraft.corrections import Corrections
from asflown.demo.aircraft.hands import sticks
from asflown.demo.aircraft.sensors import Sensors

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

#: s between two of a message unless another interval is asked for.
USUAL = {1: 1.0, 30: 0.25}
_KNOWN = (1, 26, 30, 65, 105, 147)
_NONE_16 = 65_535


class Moved(Protocol):
    """What moves the aircraft: hands, or a flight."""

    @property
    def body(self) -> Body:
        """The aircraft."""

    def to(self, now: float) -> None:
        """Go on until so many seconds."""


@dataclass
class Telemetry:
    """The messages of an aircraft that is moved.

    Attributes
    ----------
    volts, amperes
        Of its pack.
    warmth
        Degrees Celsius of its sensor; it warms by 12 more, most of it in the first minutes.
    has_fine
        Whether it knows HIGHRES_IMU.
    stale
        Whether it shuns asking: intervals are refused.
    corrections
        What its firmware does with the stored calibrations; ``None``: nothing.
    """

    moved: Moved
    sensors: Sensors = field(default_factory=Sensors)
    volts: float = 15.92
    amperes: float = 0.31
    warmth: float = 21.0
    has_fine: bool = True
    stale: bool = False
    corrections: Corrections | None = None
    seed: int = 3

    def __post_init__(self) -> None:
        self._numbers = np.random.default_rng(self.seed)
        self._interval = dict(USUAL)
        self._next = dict.fromkeys(self._interval, 0.0)
        self._made: dict[int, Callable[[float], Any]] = {
            1: self._status,
            26: self._scaled,
            30: self._attitude,
            65: self._channels,
            105: self._fine,
            147: self._pack,
        }

    @property
    def is_armed(self) -> bool:
        """Whether its rotors may turn."""
        return bool(getattr(self.moved, "is_armed", False))

    def restarted(self) -> None:
        """Asked-for intervals do not outlast a restart."""
        self._interval = dict(USUAL)
        self._next = dict.fromkeys(self._interval, 0.0)

    def ask(self, message: int, microseconds: float, now: float) -> bool:
        """Another interval; whether it is taken."""
        if self.stale or message not in _KNOWN or (message == 105 and not self.has_fine):
            return False
        self._interval.pop(message, None)
        self._next.pop(message, None)
        seconds = USUAL.get(message, 0.0) if microseconds == 0 else microseconds / 1e6
        if seconds > 0:
            self._interval[message], self._next[message] = max(seconds, 0.002), now
        return True

    def due(self, now: float) -> Iterator[Any]:
        """Messages that are due by now, in their order."""
        while self._next:
            message = min(self._next, key=lambda one: self._next[one])
            at = self._next[message]
            if at > now:
                return
            self._next[message] = at + self._interval[message]
            self.moved.to(at)
            yield self._made[message](at)

    def _temperature(self, now: float) -> float:
        return self.warmth + 12.0 * (1 - math.exp(-now / 240.0))

    def _motion(self, now: float) -> tuple[Float, Float, Float]:
        raw = self.sensors.motion(self.moved.body, self._temperature(now), self._numbers)
        return raw if self.corrections is None else self.corrections.motion(*raw)

    def _attitude(self, now: float) -> Any:
        roll, pitch, yaw = self.sensors.attitude(self.moved.body)
        if self.corrections is not None:
            roll, pitch, yaw = self.corrections.attitude(roll, pitch, yaw)
        _, rates, _ = self._motion(now)
        shown = (math.remainder(one, 2 * math.pi) for one in (roll, pitch, yaw))
        return common.MAVLink_attitude_message(round(1e3 * now), *shown, *rates.tolist())

    def _scaled(self, now: float) -> Any:
        accel, rates, compass = self._motion(now)
        whole = (
            *np.rint(1e3 * accel / GRAVITY),
            *np.rint(1e3 * rates),
            *np.rint(10.0 * compass),
            round(100 * self._temperature(now)),
        )
        counts = (int(np.clip(one, -32_768, 32_767)) for one in whole)
        return common.MAVLink_scaled_imu_message(round(1e3 * now), *counts)

    def _fine(self, now: float) -> Any:
        accel, rates, compass = self._motion(now)
        rest = (1013.2, 0.0, 12.0, self._temperature(now))
        return common.MAVLink_highres_imu_message(
            round(1e6 * now), *accel.tolist(), *rates.tolist(), *(compass / 100.0).tolist(), *rest, 0x1FFF
        )

    def _channels(self, now: float) -> Any:
        values = [int(one) for one in sticks(now, self._numbers.standard_normal(8))]
        unused = (_NONE_16,) * (18 - len(values))
        return common.MAVLink_rc_channels_message(round(1e3 * now), len(values), *values, *unused, 190)

    def _shown(self) -> tuple[float, float]:
        turning = self.moved.body.state[13:17] / self.moved.body.frame.fastest
        amperes = self.amperes + 60.0 * float(np.sum(turning**3)) / 4
        volts = self.volts - 0.03 * amperes
        noisy = 0.004 * self._numbers.standard_normal(2)
        shown, current = self.sensors.electric(volts, amperes)
        if self.corrections is not None:
            shown = self.corrections.voltage(shown)
        return shown + float(noisy[0]), current + 5 * float(noisy[1])

    def _status(self, now: float) -> Any:
        volts, amperes = self._shown()
        known = 0b1111
        return common.MAVLink_sys_status_message(
            known, known, known, 120, round(1e3 * volts), round(1e2 * amperes), -1, 0, 0, 0, 0, 0, 0
        )

    def _pack(self, now: float) -> Any:
        volts, amperes = self._shown()
        cells = [round(1e3 * volts / 4)] * 4 + [_NONE_16] * 6
        return common.MAVLink_battery_status_message(0, 0, 0, 32_767, cells, round(1e2 * amperes), -1, -1, -1)
