"""What kinds of devices usually need. Common practice, no source: a device's own description comes first."""

from __future__ import annotations

from collections.abc import Mapping

from asflown.core.ports.needs import BETTER, NEEDED, NO, Needs, OutputNeed, SerialNeed

_BOTH = SerialNeed(9_600, 921_600, False, False, True, True, BETTER)

KINDS: Mapping[str, Needs] = {
    "speed controller": Needs(outputs=OutputNeed(pace="motors", dma=NO), critical=True),
    "receiver": Needs(serial=SerialNeed(9_600, 1_000_000, False, False, False, True, BETTER), critical=True),
    "GNSS receiver": Needs(serial=SerialNeed(4_800, 921_600, False, False, True, True, BETTER)),
    "telemetry radio": Needs(serial=_BOTH, transmits=True),
    "video transmitter": Needs(
        serial=SerialNeed(1_200, 115_200, False, True, True, True, NO), transmits=True
    ),
    "camera link": Needs(serial=SerialNeed(9_600, 921_600, False, False, True, True, BETTER)),
    "logger": Needs(serial=SerialNeed(9_600, 3_000_000, False, False, True, False, BETTER)),
    "range finder": Needs(serial=SerialNeed(9_600, 460_800, False, False, True, True, BETTER)),
    "flow sensor": Needs(serial=SerialNeed(9_600, 460_800, False, False, True, True, BETTER)),
    "companion computer": Needs(serial=_BOTH),
    "current sensor": Needs(input="current"),
    "voltage sensor": Needs(input="voltage"),
    "barometer": Needs(bus=True),
    "magnetometer": Needs(bus=True),
    "airspeed sensor": Needs(bus=True),
    "lights": Needs(outputs=OutputNeed(1, "lights", NEEDED)),
    "servo": Needs(outputs=OutputNeed(1, "servos", NO)),
    "buzzer": Needs(outputs=OutputNeed(1, "buzzer", NO)),
    "camera trigger": Needs(outputs=OutputNeed(1, "trigger", NO)),
}

#: Other words for the same kind.
ALIASES: Mapping[str, str] = {
    "esc": "speed controller",
    "radio receiver": "receiver",
    "gnss": "GNSS receiver",
    "gps": "GNSS receiver",
    "satellite receiver": "GNSS receiver",
    "telemetry": "telemetry radio",
    "compass": "magnetometer",
    "light strip": "lights",
    "led strip": "lights",
    "lamps": "lights",
    "gimbal": "servo",
    "shutter": "camera trigger",
    "rangefinder": "range finder",
    "optical flow": "flow sensor",
}


def kind_of(word: str) -> str:
    """The kind a word names, as :data:`KINDS` writes it; the word itself where it is none of them."""
    said = word.strip().casefold()
    known = {kind.casefold(): kind for kind in KINDS}
    return known.get(said) or ALIASES.get(said) or known.get(said.removesuffix("s")) or word.strip()
