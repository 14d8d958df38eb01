"""What comes from an aircraft over MAVLink, beside its parameters."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.link.ftp import Packet
from asflown.core.link.reading import Came
from asflown.core.link.samples import Sample


@dataclass(frozen=True, slots=True)
class Heard:
    """A heartbeat of an aircraft.

    Attributes
    ----------
    kind
        MAV_TYPE, by its number.
    """

    system: int
    component: int
    kind: int
    is_armed: bool


@dataclass(frozen=True, slots=True)
class Version:
    """What an aircraft says of itself (AUTOPILOT_VERSION)."""

    capabilities: int
    software: int
    board: int
    uid: int


@dataclass(frozen=True, slots=True)
class Answered:
    """A command's acknowledgement: its number and MAV_RESULT (0: accepted)."""

    command: int
    result: int


@dataclass(frozen=True, slots=True)
class MetadataAt:
    """Where an aircraft's own description lies (COMPONENT_METADATA): its address and the CRC of that file."""

    crc: int
    uri: str


@dataclass(frozen=True, slots=True)
class Said:
    """A text the aircraft sends (STATUSTEXT), with its severity: 0 emergency to 7 debug (RFC 5424)."""

    severity: int
    text: str


Message = Came | Heard | Version | Answered | MetadataAt | Packet | Sample | Said
