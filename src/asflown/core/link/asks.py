"""What may leave over MAVLink: a list of what is allowed, so that nothing arms or spins a motor."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.link.ftp import FILE_TRANSFER_PROTOCOL, Packet, why_not
from asflown.core.link.samples import SENSORS

#: Messages and commands by number (MAVLink common; section 14 of the check values).
HEARTBEAT, PARAM_REQUEST_READ, PARAM_REQUEST_LIST, PARAM_SET, COMMAND_LONG = 0, 20, 21, 23, 76
STORAGE, REBOOT, SET_INTERVAL, REQUEST_MESSAGE = 245, 246, 511, 512
AUTOPILOT_VERSION, COMPONENT_METADATA = 148, 397
#: First parameters of the commands that are allowed: store; reboot, or reboot into the boot loader;
#: how often what the sensors measure is told.
_ALLOWED_FIRST = {
    STORAGE: (1.0,),
    REBOOT: (1.0, 3.0),
    SET_INTERVAL: tuple(float(number) for number in SENSORS),
    REQUEST_MESSAGE: (float(AUTOPILOT_VERSION), float(COMPONENT_METADATA)),
}
#: Bit of a heartbeat's base mode: the motors are armed.
ARMED = 128


@dataclass(frozen=True, slots=True)
class RequestList:
    """All parameters."""

    number = PARAM_REQUEST_LIST


@dataclass(frozen=True, slots=True)
class RequestRead:
    """One parameter, by its name, or by its index where the name is empty."""

    name: str = ""
    index: int = -1
    number = PARAM_REQUEST_READ


@dataclass(frozen=True, slots=True)
class Set:
    """One parameter shall hold the value of these four bytes."""

    name: str
    raw: bytes
    kind: int
    number = PARAM_SET


@dataclass(frozen=True, slots=True)
class Command:
    """One command, its first two parameters, how often it was sent before."""

    command: int
    first: float
    confirmation: int = 0
    second: float = 0.0
    number = COMMAND_LONG


@dataclass(frozen=True, slots=True)
class Beat:
    """We are here: a ground station's heartbeat."""

    number = HEARTBEAT


@dataclass(frozen=True, slots=True)
class Files:
    """One packet of the file transfer."""

    packet: Packet
    number = FILE_TRANSFER_PROTOCOL


Ask = RequestList | RequestRead | Set | Command | Beat | Files


def refused(
    number: int, command: int | None = None, first: float | None = None, payload: bytes = b""
) -> str | None:
    """Why a message must not leave, ``None`` where it may.

    Parameters
    ----------
    number
        Of the message.
    command, first
        Of a COMMAND_LONG: which, and its first parameter.
    payload
        Of a packet of the file transfer.
    """
    if number in (HEARTBEAT, PARAM_REQUEST_READ, PARAM_REQUEST_LIST, PARAM_SET):
        return None
    if number == FILE_TRANSFER_PROTOCOL:
        return why_not(payload)
    if number != COMMAND_LONG:
        return f"message {number} is not one asflown sends"
    allowed = _ALLOWED_FIRST.get(-1 if command is None else command)
    if allowed is None:
        return f"command {command} is not one asflown sends: it could arm, spin a motor, or move the aircraft"
    return None if first in allowed else f"command {command} with {first} is not one asflown sends"
