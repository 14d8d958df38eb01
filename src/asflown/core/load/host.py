"""What a machine shows of USB devices and serial ports: plain data, nothing is looked up or judged here.

Class codes are from memory: USB DFU 1.1, sections 4.1.3 and 4.2.3 (class FE, subclass 01, protocol 01 at run
time, 02 in DFU mode); CDC 1.2, section 4 (class 02, subclass 02: a modem, as serial ports show themselves).
"""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.image.check import ROM_DFU

_DFU, _AT_RUN_TIME, _IN_DFU_MODE = (0xFE, 0x01), 0x01, 0x02
_MODEM = (0x02, 0x02)


@dataclass(frozen=True, slots=True)
class UsbInterface:
    """What one part of a USB device says it is."""

    base: int
    sub: int
    protocol: int

    @property
    def is_dfu(self) -> bool:
        """Whether it takes firmware, now or after it was asked to."""
        return (self.base, self.sub) == _DFU


@dataclass(frozen=True, slots=True)
class UsbDevice:
    """A USB device; what could not be read is ``None``.

    Attributes
    ----------
    place
        Where it hangs, e.g. ``1-4.2``: bus 1, port 4, port 2 of the hub there.
    node
        The file it is spoken to through.
    readable, writable
        Whether this user may read and write that file, or open the device.
    drivers
        Drivers bound to its interfaces.
    """

    vendor: int
    product: int
    place: str
    maker: str | None = None
    name: str | None = None
    serial: str | None = None
    interfaces: tuple[UsbInterface, ...] | None = None
    node: str | None = None
    readable: bool | None = None
    writable: bool | None = None
    drivers: tuple[str, ...] | None = None

    @property
    def ids(self) -> str:
        """Vendor and product as printed: ``0483:DF11``."""
        return f"{self.vendor:04X}:{self.product:04X}"

    @property
    def is_rom(self) -> bool:
        """Whether it is the boot loader in the processors' ROM."""
        return (self.vendor, self.product) == ROM_DFU

    @property
    def takes_firmware(self) -> bool:
        """Whether it is in its boot loader."""
        return self.is_rom or any(i.is_dfu and i.protocol == _IN_DFU_MODE for i in self.interfaces or ())

    @property
    def may_take_firmware(self) -> bool:
        """Whether it says that it can be brought into DFU mode."""
        return any(i.is_dfu and i.protocol == _AT_RUN_TIME for i in self.interfaces or ())

    @property
    def is_serial(self) -> bool:
        """Whether it is a serial port by its class, as boards are that run their firmware."""
        return any((i.base, i.sub) == _MODEM for i in self.interfaces or ())


@dataclass(frozen=True, slots=True)
class Holder:
    """A program that has a port open."""

    pid: int
    name: str


@dataclass(frozen=True, slots=True)
class SerialPort:
    """A serial port; what could not be read is ``None``.

    Attributes
    ----------
    may_open
        Whether this user may read and write it.
    group
        The group that owns it.
    held_by
        Programs that have it open, as far as this user may see.
    """

    device: str
    description: str = ""
    vendor: int | None = None
    product: int | None = None
    may_open: bool | None = None
    group: str | None = None
    held_by: tuple[Holder, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """A udev rule of this machine that names a USB vendor."""

    file: str
    text: str

    def covers(self, device: UsbDevice) -> bool:
        """Whether it gives access to devices of that vendor, and of that product or any."""
        said = self.text.replace(" ", "").lower()
        names_vendor = f'idvendor}}=="{device.vendor:04x}"' in said
        names_product = "idproduct}==" not in said or f'idproduct}}=="{device.product:04x}"' in said
        return names_vendor and names_product and ("uaccess" in said or "mode=" in said)


@dataclass(frozen=True, slots=True)
class HostSeen:
    """What the machine shows.

    Attributes
    ----------
    platform
        ``linux``, ``darwin`` or ``win32``.
    groups, groups_next
        This session's, and those the machine's list gives this user at the next login.
    usb, ports
        ``None`` where they could not be listed.
    rules
        udev rules that name a vendor; ``None`` where there is no such thing or it could not be read.
    unknown
        What could not be read, and why.
    """

    platform: str
    groups: tuple[str, ...] | None = None
    groups_next: tuple[str, ...] | None = None
    usb: tuple[UsbDevice, ...] | None = None
    ports: tuple[SerialPort, ...] | None = None
    rules: tuple[Rule, ...] | None = None
    unknown: tuple[str, ...] = ()

    @property
    def names(self) -> dict[tuple[str, ...], str]:
        """Everything there is, to be told apart from what was there before: a key, and words for it."""
        made: dict[tuple[str, ...], str] = {}
        for device in self.usb or ():
            mode = "boot loader" if device.takes_firmware else ""
            made["usb", device.place, device.ids, device.serial or "", mode] = said(device)
        for port in self.ports or ():
            made["port", port.device] = f"serial port {port.device}"
        return made


def said(device: UsbDevice) -> str:
    """A device in words: ``USB device 0483:DF11 (maker name) at 1-4``."""
    words = " ".join(word for word in (device.maker, device.name) if word)
    return f"USB device {device.ids}{f' ({words})' if words else ''} at {device.place}"
