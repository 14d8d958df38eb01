"""A simulated aircraft's files behind MAVLink FTP, and its description of its own parameters.

The answers are packed here by their own code, which shares nothing with what asflown sends.
"""

from __future__ import annotations

import binascii
import json
import lzma
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from pymavlink.dialects.v20 import common

GENERAL, PARAMETERS = "/state/about.json.xz", "/state/parameters.json.xz"
_ACK, _NAK, _ROOM = 128, 129, 239
_SESSION, _END, _UNKNOWN, _MISSING = 4, 6, 7, 10


def about(parameters: bytes) -> Mapping[str, bytes]:
    """The files of an aircraft that describes its parameters with this JSON."""
    packed = lzma.compress(parameters, format=lzma.FORMAT_XZ)
    general = {
        "version": 1,
        "metadataTypes": [
            {"type": 1, "uri": f"mftp://{PARAMETERS}", "fileCrc": binascii.crc32(packed)},
        ],
    }
    return {GENERAL: lzma.compress(json.dumps(general).encode()), PARAMETERS: packed}


@dataclass
class Files:
    """Files that may be read, one session at a time.

    Attributes
    ----------
    bursts
        Whether the burst command is known.
    forbidden
        Commands that came and would have changed a file.
    burst_at_once
        Packets of a burst before it ends by itself.
    """

    files: Mapping[str, bytes]
    bursts: bool = True
    burst_at_once: int = 64
    forbidden: list[int] = field(default_factory=list)
    _open: bytes | None = None
    _session: int = 3

    def answer(self, payload: bytes) -> Iterator[bytes]:
        """Payloads that answer one payload."""
        number, session, op, size, _, _, _, offset = struct.unpack("<HBBBBBBI", payload[:12])
        data = payload[12 : 12 + size]
        if op in (1, 2):
            self._open = None
            yield self._packed(number, session, _ACK, op, b"")
        elif op == 4:
            yield self._opened(number, data.decode("utf-8", "replace"))
        elif op in (5, 15) and (self._open is None or session != self._session):
            yield self._packed(number, session, _NAK, op, bytes((_SESSION,)))
        elif op == 15 and not self.bursts:
            yield self._packed(number, session, _NAK, op, bytes((_UNKNOWN,)))
        elif op == 5:
            yield self._read(number, op, offset, size)
        elif op == 15:
            yield from self._burst(number, offset)
        else:
            self.forbidden.append(op)
            yield self._packed(number, session, _NAK, op, bytes((_UNKNOWN,)))

    def _opened(self, number: int, path: str) -> bytes:
        if path not in self.files:
            return self._packed(number, 0, _NAK, 4, bytes((_MISSING,)))
        self._open = self.files[path]
        return self._packed(number, self._session, _ACK, 4, struct.pack("<I", len(self._open)))

    def _read(self, number: int, op: int, offset: int, size: int) -> bytes:
        assert self._open is not None
        if offset >= len(self._open):
            return self._packed(number, self._session, _NAK, op, bytes((_END,)), offset)
        return self._packed(number, self._session, _ACK, op, self._open[offset : offset + size], offset)

    def _burst(self, number: int, offset: int) -> Iterator[bytes]:
        assert self._open is not None
        for sent in range(self.burst_at_once):
            piece = self._open[offset : offset + _ROOM]
            if not piece:
                yield self._packed(number, self._session, _NAK, 15, bytes((_END,)), offset)
                return
            is_last = sent == self.burst_at_once - 1
            yield self._packed(number, self._session, _ACK, 15, piece, offset, is_last=is_last)
            offset += len(piece)
            number += 1

    def _packed(
        self,
        number: int,
        session: int,
        op: int,
        of: int,
        data: bytes,
        offset: int = 0,
        *,
        is_last: bool = False,
    ) -> bytes:
        head = struct.pack(
            "<HBBBBBBI", (number + 1) & 0xFFFF, session, op, len(data), of, int(is_last), 0, offset
        )
        return (head + data).ljust(251, b"\0")


def metadata_message(mav: Any, crc: int, uri: str) -> bytes:
    """A COMPONENT_METADATA frame (397): the reference library's common dialect does not have it."""
    payload = struct.pack("<II100s", 1234, crc, uri.encode()).rstrip(b"\0")
    head = struct.pack("<BBBBBBHB", len(payload), 0, 0, mav.seq, mav.srcSystem, mav.srcComponent, 397, 0)
    mav.seq = (mav.seq + 1) % 256
    crc16 = common.x25crc(head + payload)
    crc16.accumulate(bytes((182,)))
    return b"\xfd" + head + payload + struct.pack("<H", crc16.crc)
