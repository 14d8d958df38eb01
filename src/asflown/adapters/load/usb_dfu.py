"""Boards in USB DFU mode: finding them, and their control transfers, through libusb."""

from __future__ import annotations

import errno
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from asflown.adapters.load.dfu_session import DfuSession
from asflown.core.load import dfuse
from asflown.core.load.told import Told
from asflown.errors import DeviceError

#: Class, subclass and protocol of an interface in DFU mode (USB DFU 1.1, section 4.2.3), and the type of the
#: descriptor of its abilities (section 4.1.3).
_DFU_MODE, _FUNCTIONAL = (0xFE, 0x01, 0x02), 0x21
_TO_DEVICE, _TO_HOST = 0x21, 0xA1
#: Longest a control transfer may take, ms.
_PATIENCE = 5_000
#: Where the extension's text says the processor's own flash is.
_OWN_FLASH = "Internal Flash"


@dataclass(frozen=True)
class Found:
    """A device with an interface in DFU mode."""

    name: str
    says: str
    device: Any


def found(backend: Any = None) -> tuple[Found, ...]:
    """Every device in DFU mode that can be seen.

    Parameters
    ----------
    backend
        A backend of pyusb; ``None``: libusb as it comes with asflown.
    """
    import usb.core

    try:
        devices = list(usb.core.find(find_all=True, backend=backend or _libusb()) or ())
    except (usb.core.USBError, usb.core.NoBackendError, ValueError):  # no USB on this machine
        return ()
    made = []
    for device in devices:
        if any(True for _ in _interfaces(device)):
            ports = ".".join(str(number) for number in device.port_numbers or ()) or str(device.address)
            ids = f"{device.idVendor:04x}:{device.idProduct:04x}"
            made.append(Found(f"usb:{device.bus}-{ports}", f"a board in USB DFU mode ({ids})", device))
    return tuple(made)


def _libusb() -> Any:
    import libusb_package

    return libusb_package.get_libusb1_backend()


def _interfaces(device: Any) -> Iterator[Any]:
    import usb.core

    try:
        for configuration in device:
            for interface in configuration:
                kind = (
                    interface.bInterfaceClass,
                    interface.bInterfaceSubClass,
                    interface.bInterfaceProtocol,
                )
                if kind == _DFU_MODE:
                    yield interface
    except usb.core.USBError:
        return


class UsbDfu(DfuSession):
    """A device in DFU mode, open.

    Raises
    ------
    DeviceError
        When it may not be opened, or has no flash of its own to write.
    """

    def __init__(self, found: Found) -> None:
        device = found.device
        choice, text = _own_flash(found)
        pipe = UsbPipe(device, choice, found.name)
        attributes, block, version = _abilities(choice, found.name)
        super().__init__(pipe, text, block, attributes, version, time.sleep)

    def connect(self) -> Told:
        """Bring the device to idle, and read what it tells of its flash."""
        if self.version != dfuse.VERSION:
            raise DeviceError(
                "asking what it is",
                f"the device speaks DFU {self.version:#06x} without addressed writes",
                trouble="refused",
                next_step="only boot loaders with the vendor extension are written to",
            )
        return super().connect()


def _own_flash(found: Found) -> tuple[Any, str]:
    """The alternate setting whose text names the processor's own flash."""
    import usb.core
    import usb.util

    texts = []
    try:
        for interface in _interfaces(found.device):
            text = usb.util.get_string(found.device, interface.iInterface) or ""
            texts.append(text)
            if dfuse.name_of(text) == _OWN_FLASH:
                return interface, text
    except (usb.core.USBError, RuntimeError, ValueError) as error:
        raise _refused(found.name, error) from None
    raise DeviceError(
        f"opening {found.name}",
        f"none of its memories is the processor's own flash ({', '.join(texts) or 'it names none'})",
        trouble="refused",
    )


def _abilities(interface: Any, name: str) -> tuple[int, int, int]:
    """``bmAttributes``, ``wTransferSize`` and ``bcdDFU`` of the DFU functional descriptor."""
    extra = bytes(interface.extra_descriptors)
    while len(extra) >= 2 and extra[0] >= 2:
        if extra[1] == _FUNCTIONAL and len(extra) >= 9 and extra[0] >= 9:
            block = int.from_bytes(extra[5:7], "little")
            if block:
                return extra[2], block, int.from_bytes(extra[7:9], "little")
        extra = extra[extra[0] :]
    raise DeviceError(f"opening {name}", "it does not say what it can do", trouble="refused")


class UsbPipe:
    """Class requests to one interface."""

    def __init__(self, device: Any, interface: Any, name: str) -> None:
        import usb.core
        import usb.util

        self.device, self.number, self.name = device, interface.bInterfaceNumber, name
        try:
            usb.util.claim_interface(device, self.number)
            device.set_interface_altsetting(self.number, interface.bAlternateSetting)
        except (usb.core.USBError, RuntimeError) as error:
            raise _refused(name, error) from None

    def send(self, request: int, value: int, data: bytes) -> None:
        """Host to device."""
        self._transfer(_TO_DEVICE, request, value, data)

    def ask(self, request: int, value: int, count: int) -> bytes:
        """Device to host; up to ``count`` bytes."""
        return bytes(self._transfer(_TO_HOST, request, value, count))

    def _transfer(self, kind: int, request: int, value: int, data: bytes | int) -> Any:
        import usb.core

        step = f"request {request} to {self.name}"
        try:
            return self.device.ctrl_transfer(kind, request, value, self.number, data, _PATIENCE)
        except usb.core.USBTimeoutError:
            raise DeviceError(step, f"no answer in {_PATIENCE // 1000} s", trouble="silent") from None
        except usb.core.USBError as error:
            if error.errno == errno.EPIPE:
                raise DeviceError(step, "refused", trouble="refused") from None
            raise DeviceError(step, str(error.strerror or error), trouble="lost") from None

    def close(self) -> None:
        """Let go of the device."""
        import usb.util

        usb.util.dispose_resources(self.device)


def _refused(name: str, error: Exception) -> DeviceError:
    what = getattr(error, "strerror", None) or str(error)
    return DeviceError(
        f"opening {name}", str(what), trouble="lost", next_step="see what is missing: asflown host-check"
    )
