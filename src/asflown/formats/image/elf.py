"""ELF for 32-bit Arm processors: what its load segments put into flash.

Headers as in the "Executable and Linking Format Specification" of the Tool Interface Standard, version 1.2;
from memory, and laid beside pyelftools in the tests. pyelftools also has the names of machines.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from asflown.core.image.model import ADDRESS_SPACE, joined
from asflown.formats.image.parts import Content, hexed, refused

_HEAD = struct.Struct("<16s2H5I6H")
_SEGMENT = struct.Struct("<8I")
_SECTION_SIZE = 40
_ARM, _EXECUTABLE, _LOAD = 40, 2, 1
_CLASSES, _ORDERS = {1: 32, 2: 64}, {1: "little", 2: "big"}
#: More load segments than any linker script for these processors makes.
_MOST_SEGMENTS = 256
_OTHER = "get the image made for this board's processor from its maker"
_LINKED = "give the linked file that goes with the image, or the maker's binary or HEX file"


class _Head(NamedTuple):
    """What the file's header says: where the tables are, how many entries they have, how long each is."""

    entry: int
    segments_at: int
    sections_at: int
    segment_size: int
    segments: int
    section_size: int
    sections: int


def read(data: bytes, name: str) -> Content:
    """Read an ELF file: load segments with bytes in the file, at their load (physical) address.

    Raises
    ------
    InputError
        When it is cut short or broken, is no linked program, is for another machine than a 32-bit Arm, or
        has nothing to load.
    """
    head = _head(data, name)
    pieces = _pieces(head, data, name)
    if not pieces:
        raise refused("has no load segment with a byte in it", name, _LINKED)
    segments, clash = joined(pieces)
    if clash is not None:
        said = f"load segments {clash.first} and {clash.second} both give {hexed(clash.address)}"
        raise refused(said, name)
    count = f"{len(pieces)} load segment{'s' if len(pieces) > 1 else ''}"
    return Content(segments, "", head.entry, remarks=(f"{count} taken at their load addresses",))


def _head(data: bytes, name: str) -> _Head:
    """The header of a program for a 32-bit Arm, its tables inside the file."""
    if len(data) < _HEAD.size:
        raise refused(f"has {len(data)} bytes; an ELF header has {_HEAD.size}: the file is cut short", name)
    ident, kind, machine, _, entry, at, sections_at, _, _, size, count, section_size, sections, _ = (
        _HEAD.unpack_from(data)
    )
    wide, order = _CLASSES.get(ident[4]), _ORDERS.get(ident[5])
    if wide is None or order is None:
        raise refused(f"is a broken ELF file (class {ident[4]}, byte order {ident[5]})", name)
    if wide != 32 or order != "little":
        said = f"is {wide}-bit, {order}-endian; the processor is 32-bit, little-endian"
        raise refused(said, name, _OTHER)
    if machine != _ARM:
        said = f"is for the machine {_machine(machine)}, not for a 32-bit Arm (EM_ARM)"
        raise refused(said, name, _OTHER)
    if kind != _EXECUTABLE:
        raise refused(f"is of type {_type(kind)}, not a linked program (ET_EXEC)", name, _LINKED)
    head = _Head(entry, at, sections_at, size, count, section_size, sections)
    _tables_are_whole(head, data, name)
    return head


def _tables_are_whole(head: _Head, data: bytes, name: str) -> None:
    if head.segments > _MOST_SEGMENTS:
        raise refused(f"says it has {head.segments} segments; {_MOST_SEGMENTS} at most are read", name)
    for what, count, size, defined, at in (
        ("segment", head.segments, head.segment_size, _SEGMENT.size, head.segments_at),
        ("section", head.sections, head.section_size, _SECTION_SIZE, head.sections_at),
    ):
        if count and size != defined:
            said = f"is a broken ELF file ({what} headers of {size} bytes; {defined} are defined)"
            raise refused(said, name)
        end = at + count * size
        if count and end > len(data):
            said = f"{what} headers end at byte {end} of {len(data)}: the file is cut short"
            raise refused(said, name)


def _machine(number: int) -> str:
    from elftools.elf.enums import ENUM_E_MACHINE

    return _named(ENUM_E_MACHINE, number)


def _type(number: int) -> str:
    from elftools.elf.enums import ENUM_E_TYPE

    return _named(ENUM_E_TYPE, number)


def _named(names: Mapping[str, object], number: int) -> str:
    return next((name for name, value in names.items() if value == number), str(number))


def _pieces(head: _Head, data: bytes, name: str) -> list[tuple[int, bytes]]:
    """What the load segments hold; all of them together no more than the file does."""
    pieces: list[tuple[int, bytes]] = []
    held = 0
    for number, piece in _loaded(head, data, name):
        pieces.append(piece)
        held += len(piece[1])
        if held > len(data):
            said = f"says that load segments 0 to {number} hold {held} bytes; the whole file has {len(data)}"
            raise refused(said, name)
    return pieces


def _loaded(head: _Head, data: bytes, name: str) -> Iterator[tuple[int, tuple[int, bytes]]]:
    """Number, load address and bytes of each load segment that has any."""
    for number in range(head.segments):
        kind, start, _, address, size, _, _, _ = _SEGMENT.unpack_from(
            data, head.segments_at + _SEGMENT.size * number
        )
        if kind != _LOAD or not size:
            continue
        if start + size > len(data):
            said = f"load segment {number} ends at byte {start + size} of {len(data)}: the file is cut short"
            raise refused(said, name)
        if address + size > ADDRESS_SPACE:
            raise refused(f"load segment {number} goes past the end of the address space", name)
        yield number, (address, data[start : start + size])
