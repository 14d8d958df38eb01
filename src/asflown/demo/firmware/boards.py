"""The invented boards: wrackline-2, which the aircraft carry, and wrackline-3, wired differently."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from asflown.demo.firmware.releases import Firmware

BOARD, OTHER_BOARD = "wrackline-2", "wrackline-3"

#: Factory values that differ on a board because its outputs, ports and sensors lie elsewhere.
_WIRED: Mapping[str, Mapping[str, str]] = {
    OTHER_BOARD: {
        "motor.a.pin": "5",
        "motor.b.pin": "6",
        "motor.c.pin": "7",
        "motor.d.pin": "8",
        "radio.port": "4",
        "sky.port": "1",
        "volt.pin": "3",
        "amp.pin": "4",
        "lamp.pin": "1",
        "mount.swing": "180",
        "volt.scale": "1210",
    }
}


def for_board(firmware: Firmware, board: str) -> Firmware:
    """A release as it comes on a board: the same names, some factory values of its own."""
    wired = _WIRED.get(board, {})
    if firmware.family != "marram" or not wired:
        return firmware
    parameters = tuple(
        replace(item, default=(wired[item.name],)) if item.name in wired else item
        for item in firmware.parameters
    )
    return replace(firmware, parameters=parameters)
