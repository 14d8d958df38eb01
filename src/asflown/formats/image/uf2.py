"""UF2: 512-byte blocks, each with its own address (the open description of the format; figures from memory).

Block layout, words least byte first: magic ``0x0A324655`` ("UF2" and a line end), magic ``0x9E5D5157``,
flags, address, payload size (at most 476), block number, number of blocks, family (where flag ``0x2000`` is
set), 476 bytes of data, magic ``0x0AB16F30``.
"""

from __future__ import annotations

import struct

from asflown.core.image.model import ADDRESS_SPACE, joined
from asflown.errors import InputError
from asflown.formats.image.parts import Content, hexed, refused

BLOCK, ROOM = 512, 476
MAGIC, SECOND, LAST = 0x0A324655, 0x9E5D5157, 0x0AB16F30
NOT_FLASH, FILES, FAMILY = 0x1, 0x1000, 0x2000
_MAGICS = MAGIC, SECOND, LAST
_LAYOUT = struct.Struct(f"<8I{ROOM}sI")
_Words = tuple[int, int, int, int, int, int, int, int, bytes, int]


def read(data: bytes, name: str) -> Content:
    """Read a UF2 file.

    Raises
    ------
    InputError
        Naming the block: a bad magic word, size, number or address, a block that is missing or comes twice,
        families that differ, overlapping data that differ, nothing for flash at all.
    """
    if len(data) % BLOCK:
        whole, rest = divmod(len(data), BLOCK)
        raise refused(f"holds {whole} blocks of 512 bytes and {rest} bytes more: the file is cut short", name)
    reader = _Blocks(name, len(data) // BLOCK)
    for place, words in enumerate(_LAYOUT.iter_unpack(data)):
        reader.take(words, place)
    return reader.content()


class _Blocks:
    """Takes block after block."""

    def __init__(self, name: str, count: int) -> None:
        self.name = name
        self.count = count
        self.pieces: list[tuple[int, bytes]] = []
        self.places: list[int] = []
        self.seen: dict[int, int] = {}
        self.families: dict[int | None, int] = {}
        self.passed_over = 0

    def take(self, words: _Words, place: int) -> None:
        """Take one block; ``place`` counts from 0."""
        _, _, flags, address, size, number, _, family, body, _ = words
        fault = self._fault(words)
        self.seen.setdefault(number, place)
        if fault is not None:
            raise self._refused(fault, place)
        if flags & NOT_FLASH:
            self.passed_over += 1
            return
        if address + size > ADDRESS_SPACE:
            raise self._refused(f"goes past the end of the address space at {hexed(address)}", place)
        self.families.setdefault(family if flags & FAMILY else None, place)
        if len(self.families) > 1:
            raise self._refused("is for another processor family than the blocks before it", place)
        self.pieces.append((address, body[:size]))
        self.places.append(place + 1)

    def _refused(self, what: str, place: int) -> InputError:
        return refused(what, f"{self.name}: block {place + 1} of {self.count}")

    def _fault(self, words: _Words) -> str | None:
        """What is wrong with a block by itself, or beside the others' numbers."""
        first, second, flags, _, size, number, total, _, _, last = words
        found = first, second, last
        if found != _MAGICS:
            what, is_, wanted = next(
                row
                for row in zip(("first", "second", "last"), found, _MAGICS, strict=True)
                if row[1] != row[2]
            )
            return f"has the {what} magic word {hexed(is_)}; expected {hexed(wanted)}"
        if flags & FILES:
            return "holds a piece of a file, not of flash (flag 0x1000)"
        if number in self.seen:
            return f"has the number {number}, as block {self.seen[number] + 1} has"
        if number >= total or total != self.count:
            return f"is number {number} of {total}; the file holds {self.count} blocks"
        return None if 0 < size <= ROOM else f"says it holds {size} bytes; 1 to {ROOM} are possible"

    def content(self) -> Content:
        """What was taken."""
        if not self.pieces:
            raise refused("holds not one block for flash", self.name)
        segments, clash = joined(self.pieces)
        remarks: list[str] = []
        if clash is not None:
            first, second = self.places[clash.first], self.places[clash.second]
            said = f"blocks {first} and {second} both give {hexed(clash.address)}"
            if clash.differs:
                raise refused(f"{said}, and want different bytes there", self.name)
            remarks.append(f"{said}, with the same bytes")
        if self.passed_over:
            remarks.append(f"{self.passed_over} blocks are not for flash and were passed over (flag 0x1)")
        family = next(iter(self.families))
        checked = f"{self.count} blocks, every magic word right, every number there once"
        return Content(segments, checked, family=family, remarks=tuple(remarks))
