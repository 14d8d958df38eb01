"""USB device firmware upgrade, class specification version 1.1: requests, states, what may follow what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum


class Request(IntEnum):
    """Class requests (section 3, table 3.2)."""

    DETACH = 0
    DNLOAD = 1
    UPLOAD = 2
    GETSTATUS = 3
    CLRSTATUS = 4
    GETSTATE = 5
    ABORT = 6


class State(IntEnum):
    """States of a device (section 6.1.2, bState)."""

    APP_IDLE = 0
    APP_DETACH = 1
    IDLE = 2
    DNLOAD_SYNC = 3
    DNBUSY = 4
    DNLOAD_IDLE = 5
    MANIFEST_SYNC = 6
    MANIFEST = 7
    MANIFEST_WAIT_RESET = 8
    UPLOAD_IDLE = 9
    ERROR = 10


#: What a device says went wrong (section 6.1.2, bStatus), in our words.
STATUS: Mapping[int, tuple[str, str]] = {
    0x00: ("OK", "nothing is wrong"),
    0x01: ("errTARGET", "the file is not for this device"),
    0x02: ("errFILE", "the file fails a check of the device"),
    0x03: ("errWRITE", "the device cannot write its memory"),
    0x04: ("errERASE", "erasing the memory failed"),
    0x05: ("errCHECK_ERASED", "the memory is not empty after erasing"),
    0x06: ("errPROG", "writing the memory failed"),
    0x07: ("errVERIFY", "what was written reads back otherwise"),
    0x08: ("errADDRESS", "the address is out of the device's range"),
    0x09: ("errNOTDONE", "the end came before all data had"),
    0x0A: ("errFIRMWARE", "the device's firmware is damaged and cannot run"),
    0x0B: ("errVENDOR", "an error of the maker's own kind"),
    0x0C: ("errUSBR", "an unexpected USB reset"),
    0x0D: ("errPOR", "an unexpected power-on reset"),
    0x0E: ("errUNKNOWN", "something went wrong that the device does not know"),
    0x0F: ("errSTALLEDPKT", "an unexpected request was refused"),
}


@dataclass(frozen=True, slots=True)
class Status:
    """The six bytes a device answers to GETSTATUS.

    Attributes
    ----------
    wait
        Seconds to wait before asking again.
    text
        Index of the device's own text, 0 for none.
    """

    status: int
    wait: float
    state: State
    text: int

    @property
    def is_ok(self) -> bool:
        """Whether nothing is wrong."""
        return self.status == 0

    @property
    def said(self) -> str:
        """What is wrong, with the standard's name for it."""
        name, words = STATUS.get(self.status, (f"status {self.status:#04x}", "not in the standard"))
        return f"{words} ({name})"


def status_of(data: bytes) -> Status:
    """Read the answer to GETSTATUS: bStatus, bwPollTimeout (3 bytes, ms, lowest first), bState, iString.

    Raises
    ------
    ValueError
        When it is no such answer.
    """
    if len(data) != 6:
        raise ValueError(f"{len(data)} bytes; a status has 6")
    if data[4] not in State._value2member_map_:
        raise ValueError(f"state {data[4]} is not in the standard")
    return Status(data[0], int.from_bytes(data[1:4], "little") / 1000, State(data[4]), data[5])
