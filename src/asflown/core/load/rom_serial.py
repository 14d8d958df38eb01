"""The serial protocol of the processor's own boot loader: ST application note AN3155. Bytes only, no wire.

8 data bits, even parity, 1 stop bit. The host sends 0x7F once, so that the loader learns the speed; from then
on each command is its code and the complement, and the loader answers each part with ACK or NACK.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

INIT, ACK, NACK = 0x7F, 0x79, 0x1F
#: Most bytes of one read or write.
BLOCK = 256


class Command(IntEnum):
    """Command codes (AN3155 table 2)."""

    GET = 0x00
    GET_VERSION = 0x01
    GET_ID = 0x02
    READ = 0x11
    GO = 0x21
    WRITE = 0x31
    ERASE = 0x43
    EXTENDED_ERASE = 0x44
    WRITE_PROTECT = 0x63
    WRITE_UNPROTECT = 0x73
    READOUT_PROTECT = 0x82
    READOUT_UNPROTECT = 0x92


#: Lifting protection erases the whole flash: asflown never sends these.
NEVER_SENT = frozenset(
    {Command.WRITE_UNPROTECT, Command.READOUT_UNPROTECT, Command.READOUT_PROTECT, Command.WRITE_PROTECT}
)


def xor(data: bytes) -> int:
    """Exclusive or of all bytes: the protocol's checksum."""
    made = 0
    for byte in data:
        made ^= byte
    return made


def command(code: Command) -> bytes:
    """A command's code and its complement.

    Raises
    ------
    ValueError
        For a command that changes protection: lifting it erases the flash.
    """
    if code in NEVER_SENT:
        raise ValueError(f"{code.name} changes the protection of the flash and is never sent")
    return bytes((code, code ^ 0xFF))


def address(at: int) -> bytes:
    """Four bytes of an address, highest first, and their checksum."""
    data = at.to_bytes(4, "big")
    return data + bytes((xor(data),))


def read_size(count: int) -> bytes:
    """How many bytes are wanted, 1 to 256, and the complement."""
    if not 1 <= count <= BLOCK:
        raise ValueError(f"{count} bytes cannot be read at once; 1 to {BLOCK} can")
    return bytes((count - 1, (count - 1) ^ 0xFF))


def write_block(data: bytes) -> bytes:
    """The data of one write: its number less one, the bytes, the checksum of both.

    Raises
    ------
    ValueError
        When there are none, more than 256, or no multiple of 4.
    """
    if not 4 <= len(data) <= BLOCK or len(data) % 4:
        raise ValueError(f"{len(data)} bytes cannot be written at once; a multiple of 4 up to {BLOCK} can")
    body = bytes((len(data) - 1,)) + data
    return body + bytes((xor(body),))


def erase_sectors(sectors: Sequence[int]) -> bytes:
    """The sectors of an extended erase: their number less one, each number, the checksum.

    Raises
    ------
    ValueError
        When there is none, or one stands twice.
    """
    if not sectors or len(set(sectors)) < len(sectors):
        raise ValueError("sectors to erase: at least one, each once")
    body = b"".join(number.to_bytes(2, "big") for number in (len(sectors) - 1, *sectors))
    return body + bytes((xor(body),))


def padded(data: bytes) -> bytes:
    """Data filled up with erased bytes to a multiple of 4."""
    return data + b"\xff" * (-len(data) % 4)
