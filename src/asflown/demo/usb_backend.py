"""A backend of pyusb with one simulated board behind it: pyusb's own code talks to it as to a real device."""

from __future__ import annotations

import errno
from array import array
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import usb.backend
import usb.core

from asflown.demo.dfu_device import SimulatedDfu, Stall

_IN = 0x80
#: Class, subclass, protocol of DFU mode; the functional descriptor's type; a class request to an interface.
_DFU, _FUNCTIONAL, _CLASS = (0xFE, 0x01, 0x02), 0x21, 0x21
_TEXTS = {1: "Bench and Rush", 2: "boot loader, simulated", 3: "SIM-0001"}
_LAYOUT_TEXT, _GET_DESCRIPTOR, _STRING = 4, 6, 3


class SimulatedBackend(usb.backend.IBackend):  # type: ignore[misc]  # pyusb has no types
    """The methods pyusb calls, for one device in DFU mode.

    Attributes
    ----------
    unplugged
        Whether the device is gone.
    before
        Called with the request's number before each class request, to play faults.
    """

    def __init__(self, dfu: SimulatedDfu, vendor: int = 0x0483, product: int = 0xDF11) -> None:
        self.dfu, self.ids = dfu, (vendor, product)
        self.unplugged = False
        self.before: Callable[[int], None] = lambda request: None

    def enumerate_devices(self) -> Any:
        """The devices there are."""
        return iter(() if self.unplugged else (self.dfu,))

    def get_device_descriptor(self, dev: Any) -> Any:
        """USB 2.0, table 9-8."""
        return SimpleNamespace(
            bLength=18, bDescriptorType=1, bcdUSB=0x0200, bDeviceClass=0, bDeviceSubClass=0,
            bDeviceProtocol=0, bMaxPacketSize0=64, idVendor=self.ids[0], idProduct=self.ids[1],
            bcdDevice=0x2200, iManufacturer=1, iProduct=2, iSerialNumber=3, bNumConfigurations=1, address=7,
            bus=1, port_number=4, port_numbers=(4,), speed=2,
        )  # fmt: skip

    def get_configuration_descriptor(self, dev: Any, config: int) -> Any:
        """USB 2.0, table 9-10."""
        return SimpleNamespace(
            bLength=9, bDescriptorType=2, wTotalLength=27, bNumInterfaces=1, bConfigurationValue=1,
            iConfiguration=0, bmAttributes=0xC0, bMaxPower=50, extra_descriptors=[],
        )  # fmt: skip

    def get_interface_descriptor(self, dev: Any, intf: int, alt: int, config: int) -> Any:
        """USB 2.0, table 9-12, with the DFU functional descriptor behind it."""
        if intf or alt:
            raise IndexError("one interface, one setting")
        block = self.dfu.block
        extra = (9, _FUNCTIONAL, 0x0B, 0xFF, 0x00, block & 0xFF, block >> 8, 0x1A, 0x01)
        return SimpleNamespace(
            bLength=9, bDescriptorType=4, bInterfaceNumber=0, bAlternateSetting=0, bNumEndpoints=0,
            bInterfaceClass=_DFU[0], bInterfaceSubClass=_DFU[1], bInterfaceProtocol=_DFU[2],
            iInterface=_LAYOUT_TEXT, extra_descriptors=list(extra),
        )  # fmt: skip

    def open_device(self, dev: Any) -> Any:
        """Nothing is to be opened."""
        return dev

    def close_device(self, dev_handle: Any) -> None:
        """Nothing is to be closed."""

    def get_configuration(self, dev_handle: Any) -> int:
        """The only one."""
        return 1

    def claim_interface(self, dev_handle: Any, intf: int) -> None:
        """Nobody else claims it."""

    def release_interface(self, dev_handle: Any, intf: int) -> None:
        """Nobody else waits for it."""

    def set_interface_altsetting(self, dev_handle: Any, intf: int, altsetting: int) -> None:
        """There is one setting."""

    def ctrl_transfer(
        self, dev_handle: Any, kind: int, request: int, value: int, index: int, data: Any, timeout: int
    ) -> int:
        """A control transfer; number of bytes that went over."""
        if self.unplugged or self.dfu.started is not None:
            raise usb.core.USBError("No such device", errno=errno.ENODEV)
        if kind & 0x7F == 0 and request == _GET_DESCRIPTOR and value >> 8 == _STRING:
            return _fill(data, self._text(value & 0xFF))
        if kind & 0x7F != _CLASS:
            raise usb.core.USBError("Pipe error", errno=errno.EPIPE)
        self.before(request)
        try:
            if kind & _IN:
                return _fill(data, self.dfu.give(request, value, len(data)))
            self.dfu.take(request, value, bytes(data))
        except Stall:
            raise usb.core.USBError("Pipe error", errno=errno.EPIPE) from None
        return len(data)

    def _text(self, number: int) -> bytes:
        if number == 0:
            return bytes((4, _STRING, 0x09, 0x04))
        said = self.dfu.layout if number == _LAYOUT_TEXT else _TEXTS.get(number, "")
        body = said.encode("utf-16-le")
        return bytes((len(body) + 2, _STRING)) + body


def _fill(data: array[int], given: bytes) -> int:
    count = min(len(data), len(given))
    data[:count] = array("B", given[:count])
    return count
