"""A talk with a board in USB DFU mode, by control transfers (USB DFU 1.1, its extension for addresses)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from asflown.core.image.flash import Sector
from asflown.core.load import dfu, dfuse
from asflown.core.load.dfu import Request, State, Status
from asflown.core.load.told import Told
from asflown.errors import DeviceError

#: Longest a sector may take to erase, and a block to write, s.
ERASING, WRITING = 30.0, 5.0
_NOT_THERE = (
    "unplug the board, hold the boot button, plug it in, then run the same command; asflown host-check says"
    " more"
)
#: Status of a device that gives nothing out because its flash is protected (vendor's own; from memory).
_PROTECTED = 0x0B


class Pipe(Protocol):
    """Class requests to the device's interface.

    Raises
    ------
    DeviceError
        Its trouble is ``refused`` when the device stalls, ``lost`` or ``silent``.
    """

    def send(self, request: int, value: int, data: bytes) -> None:
        """Host to device."""

    def ask(self, request: int, value: int, count: int) -> bytes:
        """Device to host; up to ``count`` bytes."""

    def close(self) -> None:
        """Let go of the device."""


class DfuSession:
    """Reads, erases and writes flash by DFU. It sends nothing that changes protection or erases everything.

    Parameters
    ----------
    layout
        The text of the interface: which memory, which sectors.
    block
        The transfer size the device told.
    attributes
        ``bmAttributes`` of its DFU descriptor: bit 0 takes downloads, bit 1 gives uploads.
    version
        ``bcdDFU`` of its descriptor.
    pause
        Waits some seconds.

    Raises
    ------
    DeviceError
        From every method, when the device refuses, is silent, or reports an error of its own.
    """

    def __init__(
        self,
        pipe: Pipe,
        layout: str,
        block: int,
        attributes: int,
        version: int,
        pause: Callable[[float], None],
    ) -> None:
        self.pipe = pipe
        self.layout = layout
        self.block = block
        self.attributes = attributes
        self.version = version
        self.pause = pause
        self._pointer: int | None = None

    def connect(self) -> Told:
        """Bring the device to idle, and read what it tells of its flash."""
        self.recover()
        try:
            sectors = dfuse.layout(self.layout)
        except ValueError as error:
            raise DeviceError("reading the flash's layout", str(error), trouble="nonsense") from None
        if not self.attributes & 1:
            raise DeviceError("asking what it is", "the device takes no images", trouble="refused")
        version = f"{self.version >> 8:x}.{self.version & 0xFF:02x}"
        can_read = bool(self.attributes & 2)
        return Told("USB DFU", version, None, sectors, self.block, can_read)

    def recover(self) -> None:
        """Bring the device to idle, whatever it is in the middle of."""
        self._pointer = None
        step = "bringing the device to idle"
        for _ in range(20):
            try:
                if self._is_idle(step):
                    return
            except DeviceError as error:
                if error.trouble == "lost":
                    raise
        raise DeviceError(step, "it does not become idle", next_step=_NOT_THERE)

    def _is_idle(self, step: str) -> bool:
        """Whether it is idle; else it is brought one state nearer to it."""
        status = self._status(step)
        if status.state is State.IDLE:
            return True
        if status.state is State.ERROR:
            self.pipe.send(Request.CLRSTATUS, 0, b"")
        elif status.state in (State.DNBUSY, State.MANIFEST):
            self.pause(max(status.wait, 0.001))
        else:
            self.pipe.send(Request.ABORT, 0, b"")
        return False

    def read(self, at: int, count: int) -> bytes:
        """Bytes of the flash, in blocks of the transfer size."""
        step = f"reading {count} bytes at 0x{at:08X}"
        self._set_address(step, at)
        self.pipe.send(Request.ABORT, 0, b"")
        made = bytearray()
        number = dfuse.FIRST_BLOCK
        while len(made) < count:
            size = min(self.block, count - len(made))
            data = self._upload(step, number, size)
            if len(data) != size:
                raise DeviceError(step, f"{len(data)} of {size} bytes came")
            made += data
            number += 1
        self.pipe.send(Request.ABORT, 0, b"")
        return bytes(made)

    def _upload(self, step: str, number: int, size: int) -> bytes:
        try:
            return self.pipe.ask(Request.UPLOAD, number, size)
        except DeviceError as error:
            if error.trouble != "refused":
                raise
            raise self._why(step) from None

    def _why(self, step: str) -> DeviceError:
        """What the device says was wrong with a request it stalled; it is idle again then."""
        status = self._status(step)
        self.recover()
        trouble = "not allowed" if status.status == _PROTECTED else "refused"
        return DeviceError(step, status.said, trouble=trouble)

    def erase(self, sector: Sector) -> None:
        """Erase a sector."""
        self._pointer = None
        step = f"erasing sector {sector.number}"
        self._download(step, 0, dfuse.erase(sector.start), ERASING)

    def write(self, at: int, data: bytes) -> None:
        """Write one block of up to the transfer size."""
        step = f"writing {len(data)} bytes at 0x{at:08X}"
        pointer = self._pointer
        if (
            pointer is None
            or at < pointer
            or (at - pointer) % self.block
            or (at - pointer) // self.block > 0xFFF0
        ):
            self._set_address(step, at)
            pointer = at
        self._download(step, dfuse.FIRST_BLOCK + (at - pointer) // self.block, data, WRITING)

    def leave(self, at: int) -> None:
        """Start the firmware at an address: a download of nothing; the device goes away then."""
        step = f"starting what lies at 0x{at:08X}"
        self._set_address(step, at)
        self.pipe.send(Request.DNLOAD, dfuse.FIRST_BLOCK, b"")
        try:
            self._status(step)
        except DeviceError as error:
            if error.trouble != "lost":
                raise

    def close(self) -> None:
        """Let go of the port."""
        self.pipe.close()

    def _set_address(self, step: str, at: int) -> None:
        self._pointer = None
        self._download(step, 0, dfuse.set_address(at), WRITING)
        self._pointer = at

    def _download(self, step: str, number: int, data: bytes, longest: float) -> None:
        """Send a block, and ask until the device has done it."""
        try:
            self.pipe.send(Request.DNLOAD, number, data)
        except DeviceError as error:
            if error.trouble != "refused":
                raise
            raise self._why(step) from None
        waited = 0.0
        while waited <= longest:
            status = self._status(step)
            if not status.is_ok or status.state is State.ERROR:
                self.recover()
                raise DeviceError(
                    step, status.said, trouble="not allowed" if status.status == _PROTECTED else "refused"
                )
            if status.state is State.DNLOAD_IDLE:
                return
            if status.state not in (State.DNBUSY, State.DNLOAD_SYNC):
                raise DeviceError(step, f"the device is in state {status.state.name}, which cannot be")
            wait = max(status.wait, 0.001)
            self.pause(wait)
            waited += wait
        raise DeviceError(step, f"not done after {longest:g} s", trouble="silent")

    def _status(self, step: str) -> Status:
        try:
            return dfu.status_of(self.pipe.ask(Request.GETSTATUS, 0, 6))
        except ValueError as error:
            raise DeviceError(step, f"its status is {error}") from None
