"""Unpacking gzip (RFC 1952) piece by piece; what stands before damage is kept."""

from __future__ import annotations

import zlib
from typing import BinaryIO

from asflown.formats.flightlog.source import LogSource

_PIECE = 256 * 1024
_GZIP_WINDOW = 31  # zlib: 15 bits of window, with the gzip head


class Gunzip:
    """Reads like a stream.

    Attributes
    ----------
    fault
        What was wrong, empty where nothing was: the file is cut or damaged from there on.
    """

    def __init__(self, raw: BinaryIO) -> None:
        self._raw = raw
        self._unpacker = zlib.decompressobj(_GZIP_WINDOW)
        self._ahead = b""
        self._is_begun = False
        self.fault = ""

    def read(self, size: int) -> bytes:
        """Up to about ``size`` bytes; nothing at the end."""
        while not self.fault:
            if not self._ahead:
                self._ahead = self._raw.read(_PIECE)
            if not self._ahead:
                self.fault = "it ends too early" if self._is_begun else ""
                return b""
            made = self._unpacked(size)
            if made:
                return made
        return b""

    def _unpacked(self, size: int) -> bytes:
        self._is_begun = True
        try:
            made = self._unpacker.decompress(self._ahead, size)
        except zlib.error as error:
            self.fault = str(error).partition(": ")[2] or str(error)
            return b""
        self._ahead = self._unpacker.unconsumed_tail
        if self._unpacker.eof:  # a file may be several packed ones, one after the other, and zeros
            self._ahead = self._unpacker.unused_data.lstrip(b"\0")
            self._unpacker = zlib.decompressobj(_GZIP_WINDOW)
            self._is_begun = False
        return made


def unpacked_size(source: LogSource) -> int:
    """What the end of a gzip file says (modulo 2^32), about the packed size at least."""
    with source.open() as raw:
        if source.size >= 18:
            raw.seek(-4, 2)
        told = int.from_bytes(raw.read(4), "little")
    while told * 1.01 + 4096 < source.size:
        told += 1 << 32
    return told
