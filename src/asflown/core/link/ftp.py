"""Packets of MAVLink's file transfer (message 110), and which of them may leave: those that read.

Opcodes and errors are those of MAVLink common (MAV_FTP_OPCODE, MAV_FTP_ERR); the header's layout is from
memory, and held against pymavlink's own packing in a test.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from enum import IntEnum

FILE_TRANSFER_PROTOCOL = 110
_HEAD = struct.Struct("<HBBBBBBI")
#: Bytes of the payload field, and of its data.
FIELD = 251
ROOM = FIELD - _HEAD.size


class Op(IntEnum):
    """Opcodes asflown sends, and the two answers."""

    TERMINATE = 1
    RESET = 2
    OPEN = 4
    READ = 5
    CRC = 14
    BURST = 15
    ACK = 128
    NAK = 129


#: Opcodes that may leave: none of them writes, removes or makes anything.
READS = frozenset({Op.TERMINATE, Op.RESET, Op.OPEN, Op.READ, Op.CRC, Op.BURST})

#: MAV_FTP_ERR by number, in words.
ERRORS = {
    1: "it failed",
    2: "it failed with a number of its own",
    3: "the size is not one it takes",
    4: "the session is not one it knows",
    5: "no session is free",
    6: "the file ends there",
    7: "the command is not one it knows",
    8: "the file is there already",
    9: "the file is protected",
    10: "there is no such file",
}
END_OF_FILE, UNKNOWN_COMMAND, INVALID_SESSION, NO_SESSIONS = 6, 7, 4, 5


@dataclass(frozen=True, slots=True)
class Packet:
    """One packet.

    Attributes
    ----------
    size
        Of ``data``, or how many bytes are asked for.
    answers
        The opcode that an answer answers.
    is_last
        Whether a burst ends with it.
    """

    number: int
    session: int
    op: int
    size: int
    answers: int
    is_last: bool
    offset: int
    data: bytes = b""

    @property
    def payload(self) -> bytes:
        """The payload field, filled with zeros."""
        head = _HEAD.pack(
            self.number, self.session, self.op, self.size, self.answers, int(self.is_last), 0, self.offset
        )
        return (head + self.data).ljust(FIELD, b"\0")

    @property
    def error(self) -> int:
        """The error of a refusal; 0 where it is none."""
        return self.data[0] if self.op == Op.NAK and self.data else 0


def packet_of(payload: bytes) -> Packet | None:
    """The packet of a payload field, ``None`` where it says more data than it has room for."""
    whole = payload.ljust(FIELD, b"\0")[:FIELD]
    number, session, op, size, answers, is_last, _, offset = _HEAD.unpack(whole[: _HEAD.size])
    if size > ROOM:
        return None
    data = whole[_HEAD.size : _HEAD.size + size]
    return Packet(number, session, op, size, answers, bool(is_last), offset, data)


def why_not(payload: bytes) -> str | None:
    """Why a payload must not leave, ``None`` where it may: only what reads leaves."""
    packet = packet_of(payload)
    if packet is None or packet.op not in READS:
        op = "?" if packet is None else packet.op
        return f"file command {op} is not one asflown sends: it could change a file on the aircraft"
    return None
