"""The canonical signals of a flight: name, SI unit, what it is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

AXES = ("roll", "pitch", "yaw")


class SignalKind(StrEnum):
    """How the values of a signal are to be read."""

    NUMBER = "number"
    LABEL = "label"  # a few words or codes that hold until the next one (mode, armed, failsafe)


@dataclass(frozen=True, slots=True)
class SignalDef:
    """One canonical signal.

    Attributes
    ----------
    name
        ``family.member`` or ``family``; a family that counts ends in ``.n`` and stands for ``.1``, ``.2`` …
    unit
        SI unit of its values, ``1`` for a ratio.
    low, high
        What a multirotor under 25 kg plausibly shows, in ``unit``; ``None``: no bound. Common practice, no
        source.
    """

    name: str
    unit: str
    says: str
    kind: SignalKind = SignalKind.NUMBER
    low: float | None = None
    high: float | None = None

    @property
    def family(self) -> str:
        """The part before the first dot."""
        return self.name.split(".")[0]


def _each(
    family: str, members: tuple[str, ...], unit: str, says: str, limit: float | None
) -> list[SignalDef]:
    low = None if limit is None else -limit
    return [SignalDef(f"{family}.{m}", unit, says.format(m), low=low, high=limit) for m in members]


#: Axes as in ISO 1151-1: x forward, y right, z down; roll > 0 right wing down.
SIGNALS: tuple[SignalDef, ...] = (
    SignalDef("time", "s", "time since the log began"),
    *_each("rate_command", AXES, "rad/s", "commanded {} rate", 40.0),
    *_each("rate", AXES, "rad/s", "measured {} rate", 70.0),
    *_each("control", AXES, "1", "{} output of the rate controller, before the mixer", None),
    *_each("accel", ("x", "y", "z"), "m/s2", "specific force along {}", 320.0),
    SignalDef("throttle", "1", "collective command", low=0.0, high=1.0),
    SignalDef("motor.n", "1", "command to motor n", low=0.0, high=1.0),
    SignalDef("rotor_speed.n", "rev/s", "speed of rotor n", low=0.0, high=1500.0),
    SignalDef("pack_voltage", "V", "pack voltage", low=2.0, high=70.0),
    SignalDef("pack_current", "A", "pack current", low=-20.0, high=500.0),
    *_each("stick", (*AXES, "throttle"), "1", "pilot's {} stick, -1 to 1", 1.2),
    *_each("attitude", AXES, "rad", "{} angle", 7.0),
    SignalDef("altitude", "m", "height, up positive", low=-500.0, high=9000.0),
    *_each("position", ("north", "east"), "m", "position {}", None),
    *_each("velocity", ("north", "east", "up"), "m/s", "velocity {}", 150.0),
    SignalDef("air_temperature", "K", "air temperature", low=220.0, high=340.0),
    SignalDef("air_pressure", "Pa", "static pressure", low=20_000.0, high=115_000.0),
    SignalDef("mode", "", "flight mode", SignalKind.LABEL),
    SignalDef("armed", "", "whether motors may turn", SignalKind.LABEL),
    SignalDef("failsafe", "", "failsafe state", SignalKind.LABEL),
    SignalDef("event", "", "words the log noted at a moment", SignalKind.LABEL),
)

_BY_NAME = {signal.name: signal for signal in SIGNALS}


def signal(name: str) -> SignalDef | None:
    """Definition of a canonical signal (``motor.3`` is found as ``motor.n``), ``None`` where it is none."""
    found = _BY_NAME.get(name)
    if found is not None and not name.endswith(".n"):
        return found
    family, _, member = name.partition(".")
    if member.isdigit() and int(member) >= 1 and str(int(member)) == member:
        return _BY_NAME.get(f"{family}.n")
    return None
