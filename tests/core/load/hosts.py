"""Machines made up for the tests: what hangs on them."""

from __future__ import annotations

from typing import Any

from asflown.core.load.host import Holder, HostSeen, SerialPort, UsbDevice, UsbInterface

IN_DFU, AT_RUN_TIME = UsbInterface(0xFE, 1, 2), UsbInterface(0xFE, 1, 1)
MODEM, DATA, KEYS = UsbInterface(2, 2, 1), UsbInterface(0x0A, 0, 0), UsbInterface(3, 1, 1)


def rom(**more: Any) -> UsbDevice:
    """The ROM's boot loader, spoken to by whoever may."""
    given = {
        "interfaces": (IN_DFU,),
        "node": "/dev/bus/usb/001/004",
        "readable": True,
        "writable": True,
        "drivers": (),
    }
    return UsbDevice(0x0483, 0xDF11, "1-4", "Marsh", "BOOTLOADER", "3A5C", **{**given, **more})


def board(**more: Any) -> UsbDevice:
    """A board that runs its firmware."""
    given = {"interfaces": (MODEM, DATA), "drivers": ("cdc_acm",), "readable": True, "writable": True}
    return UsbDevice(0x1209, 0x0001, "1-2", "Wrackline", "wrackline-2", **{**given, **more})


KEYBOARD = UsbDevice(0x1209, 0x0002, "1-1", "Marsh", "keyboard", interfaces=(KEYS,), writable=False)


def port(**more: Any) -> SerialPort:
    """The serial port of that board."""
    given = {"vendor": 0x1209, "product": 0x0001, "may_open": True, "group": "dialout"}
    return SerialPort("/dev/ttyACM0", "wrackline-2", **{**given, **more})


def linux(*usb: UsbDevice, ports: tuple[SerialPort, ...] | None = (), **more: Any) -> HostSeen:
    """A Linux machine with these on it."""
    return HostSeen(
        "linux",
        **{"groups": ("ines",), "groups_next": ("ines",), "usb": usb, "ports": ports, "rules": (), **more},
    )


HELD = port(held_by=(Holder(812, "modem-watch"),))
