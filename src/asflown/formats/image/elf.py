"""ELF for 32-bit Arm processors, through pyelftools: what its load segments put into flash."""

from __future__ import annotations

import io
from typing import Any

from asflown.core.image.model import ADDRESS_SPACE, joined
from asflown.errors import InputError
from asflown.formats.image.parts import Content, hexed, refused

MAGIC = b"\x7fELF"
#: More load segments than any linker script for these processors makes.
_MOST_SEGMENTS = 256
_OTHER = "get the image made for this board's processor from its maker"
_LINKED = "give the linked file that goes with the image, or the maker's binary or HEX file"


def read(data: bytes, name: str) -> Content:
    """Read an ELF file: load segments with bytes in the file, at their load (physical) address.

    Raises
    ------
    InputError
        When it is cut short or broken, is no linked program, is for another machine than a 32-bit Arm, or
        has nothing to load.
    """
    if len(data) < 52:
        raise refused(f"has {len(data)} bytes; an ELF header has 52: the file is cut short", name)
    try:
        return _content(data, name)
    except InputError:
        raise
    # pyelftools meets a broken file with whatever its structures raise: any of them means just that
    except Exception as error:
        raise refused(f"is a broken ELF file ({error or type(error).__name__})", name) from None


def _content(data: bytes, name: str) -> Content:
    from elftools.elf.elffile import ELFFile

    elf = ELFFile(io.BytesIO(data))
    if elf.elfclass != 32 or not elf.little_endian:
        order = "little" if elf.little_endian else "big"
        raise refused(
            f"is {elf.elfclass}-bit, {order}-endian; the processor is 32-bit, little-endian", name, _OTHER
        )
    if elf["e_machine"] != "EM_ARM":
        raise refused(f"is for the machine {elf['e_machine']}, not for a 32-bit Arm (EM_ARM)", name, _OTHER)
    if elf["e_type"] != "ET_EXEC":
        raise refused(f"is of type {elf['e_type']}, not a linked program (ET_EXEC)", name, _LINKED)
    if elf["e_phnum"] > _MOST_SEGMENTS:
        raise refused(f"says it has {elf['e_phnum']} segments; {_MOST_SEGMENTS} at most are read", name)
    pieces = _pieces(elf, data, name)
    if not pieces:
        raise refused("has no load segment with a byte in it", name, _LINKED)
    segments, clash = joined(pieces)
    if clash is not None:
        said = f"load segments {clash.first} and {clash.second} both give {hexed(clash.address)}"
        raise refused(said, name)
    count = f"{len(pieces)} load segment{'s' if len(pieces) > 1 else ''}"
    return Content(segments, "", elf["e_entry"], remarks=(f"{count} taken at their load addresses",))


def _pieces(elf: Any, data: bytes, name: str) -> list[tuple[int, bytes]]:
    """What the load segments hold; all of them together no more than the file does."""
    pieces: list[tuple[int, bytes]] = []
    held = 0
    for number, head in enumerate(_heads(elf)):
        piece = _piece(data, name, number, head)
        if piece is None:
            continue
        pieces.append(piece)
        held += len(piece[1])
        if held > len(data):
            said = f"says that load segments 0 to {number} hold {held} bytes; the whole file has {len(data)}"
            raise refused(said, name)
    return pieces


def _heads(elf: Any) -> Any:
    for number in range(elf["e_phnum"]):
        yield elf.structs.Elf_Phdr.parse(_head_bytes(elf, number))


def _head_bytes(elf: Any, number: int) -> bytes:
    if elf["e_phentsize"] != 32:
        raise ValueError(f"segment headers of {elf['e_phentsize']} bytes; 32 are defined")
    elf.stream.seek(elf["e_phoff"] + 32 * number)
    return bytes(elf.stream.read(32))


def _piece(data: bytes, name: str, number: int, head: Any) -> tuple[int, bytes] | None:
    if head["p_type"] != "PT_LOAD" or not head["p_filesz"]:
        return None
    start, size, address = head["p_offset"], head["p_filesz"], head["p_paddr"]
    if start + size > len(data):
        raise refused(
            f"load segment {number} ends at byte {start + size} of {len(data)}: the file is cut short",
            name,
        )
    if address + size > ADDRESS_SPACE:
        raise refused(f"load segment {number} goes past the end of the address space", name)
    return address, data[start : start + size]
