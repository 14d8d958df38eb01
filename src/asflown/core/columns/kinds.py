"""What kind of number a signal holds."""

from __future__ import annotations

from enum import StrEnum

from asflown.core.signals import SignalKind, signal


class Kind(StrEnum):
    """What a number measures."""

    TIME = "time"
    RATE = "angular rate"
    CONTROL = "controller output"
    ACCELERATION = "acceleration"
    SHARE = "share of full command"
    STICK = "stick travel"
    ROTOR = "rotor speed"
    VOLTAGE = "voltage"
    CURRENT = "current"
    ANGLE = "angle"
    LENGTH = "length"
    SPEED = "speed"
    TEMPERATURE = "temperature"
    PRESSURE = "pressure"
    LABEL = "label"


_BY_SIGNAL_UNIT = {
    "s": Kind.TIME,
    "rad/s": Kind.RATE,
    "m/s2": Kind.ACCELERATION,
    "rev/s": Kind.ROTOR,
    "V": Kind.VOLTAGE,
    "A": Kind.CURRENT,
    "rad": Kind.ANGLE,
    "m": Kind.LENGTH,
    "m/s": Kind.SPEED,
    "K": Kind.TEMPERATURE,
    "Pa": Kind.PRESSURE,
}
_BY_FAMILY = {"control": Kind.CONTROL, "stick": Kind.STICK, "throttle": Kind.SHARE, "motor": Kind.SHARE}


def kind_of(name: str) -> Kind:
    """The kind of a canonical signal."""
    found = signal(name)
    if found is None:
        raise ValueError(f"{name!r} is no canonical signal")
    if found.kind is SignalKind.LABEL:
        return Kind.LABEL
    return _BY_SIGNAL_UNIT.get(found.unit) or _BY_FAMILY[found.family]
