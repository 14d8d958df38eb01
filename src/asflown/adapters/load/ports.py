"""Where boards are plugged in: USB boot loaders and serial ports of this machine."""

from __future__ import annotations

import time
from typing import Any

from asflown.adapters.load.rom_session import RomSession
from asflown.adapters.load.serial_line import SPEED, SerialLine
from asflown.app.needs import BootLoader, Plugged
from asflown.errors import UsageError

_USB = "usb:"


class MachinePorts:
    """The ports of this machine.

    Parameters
    ----------
    speed
        Of serial lines, bits a second.
    backend
        A backend of pyusb; ``None``: libusb.
    """

    def __init__(self, speed: int = SPEED, backend: Any = None) -> None:
        self.speed = speed
        self.backend = backend

    def plugged(self) -> tuple[Plugged, ...]:
        """Every board in USB DFU mode, then every serial port with a device behind it."""
        from serial.tools import list_ports

        from asflown.adapters.load import usb_dfu

        boards = [Plugged(one.name, one.says) for one in usb_dfu.found(self.backend)]
        lines = [
            Plugged(port.device, f"a serial port ({port.description})")
            for port in sorted(list_ports.comports())
            if port.vid is not None
        ]
        return (*boards, *lines)

    def open(self, name: str) -> BootLoader:
        """The boot loader behind a port; a name that is no USB board is taken for a serial port's.

        Raises
        ------
        DeviceError
            When it cannot be opened.
        UsageError
            When no such board is plugged in.
        """
        from asflown.adapters.load import usb_dfu

        if not name.startswith(_USB):
            return RomSession(SerialLine(name, self.speed))
        boards = usb_dfu.found(self.backend)
        for one in boards:
            if one.name == name:
                return usb_dfu.UsbDfu(one)
        known = ", ".join(one.name for one in boards) or "none"
        raise UsageError(
            f"no board in USB DFU mode is at {name} (there: {known})",
            next_step="see what is plugged in: asflown host-check",
        )

    def seconds(self) -> float:
        """Seconds of a clock that only goes forward."""
        return time.monotonic()
