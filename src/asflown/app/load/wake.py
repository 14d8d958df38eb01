"""Bring a board into its boot loader by the open MAVLink command, and find it again as another device."""

from __future__ import annotations

from collections.abc import Callable

from asflown.app.link.talk import Talk
from asflown.app.needs import Links, Ports
from asflown.core.link import asks
from asflown.errors import DeviceError, NeedsPerson

#: s that a board may take to come back as another USB device; s between two looks.
PATIENCE, LOOK = 30.0, 0.5
_STAY = 3.0


def into_boot_loader(
    links: Links, address: str, ports: Ports, pause: Callable[[float], None], system: int | None = None
) -> str:
    """Restart the firmware into its boot loader; the port the board is at then.

    MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN (246) with 3: reboot, and stay in the boot loader (common.xml).

    Raises
    ------
    NeedsPerson
        When the motors are armed, or the aircraft does not accept the command.
    DeviceError
        When nothing is heard, or no board comes back.
    """
    before = {one.name for one in ports.plugged()}
    with Talk(links, address, system) as talk:
        talk.greet()
        if talk.is_armed:
            raise NeedsPerson(
                "the motors are armed: nothing is restarted",
                next_step="disarm it by its own means, pack unplugged, propellers off",
            )
        if not talk.command(asks.REBOOT, _STAY):
            raise NeedsPerson(
                "the aircraft does not accept the command to restart into its boot loader",
                next_step="hold the board's boot button while plugging USB in: asflown host-check says more",
            )
    begun = ports.seconds()
    while ports.seconds() - begun < PATIENCE:
        new = [one for one in ports.plugged() if one.name not in before]
        boards = [one for one in new if one.name.startswith("usb:")] or new
        if len(boards) == 1:
            return boards[0].name
        pause(LOOK)
    raise DeviceError(
        "waiting for the boot loader",
        f"no board came back in {PATIENCE:g} s",
        trouble="silent",
        next_step="see what is there: asflown host-check; or use the boot button",
    )
