"""The vendor extension of USB DFU for addressed reading and writing, as published (ST UM0391, AN3156).

A download to block 0 is a command: set the address pointer, erase a sector. Block 2 and up are data, at the
pointer plus (block - 2) times the transfer size. The interface's text tells the flash's sectors. From memory
of the notes.
"""

from __future__ import annotations

import re

from asflown.core.image.flash import Sector

SET_ADDRESS, ERASE = 0x21, 0x41
#: Lifts read protection and erases the flash with it: asflown never sends it.
READ_UNPROTECT = 0x92
#: The first block of data.
FIRST_BLOCK = 2
#: ``bcdDFU`` of a device that speaks the extension.
VERSION = 0x011A

_SIZES = {"B": 1, " ": 1, "K": 1024, "M": 1024 * 1024}
_RUN = re.compile(r"(\d{1,4})\*(\d{1,4})([BKM ])([a-g])")
_PART = re.compile(r"/0x([0-9A-Fa-f]{1,8})/([^/]+)")


def set_address(at: int) -> bytes:
    """The command that sets the address pointer."""
    return bytes((SET_ADDRESS,)) + at.to_bytes(4, "little")


def erase(at: int) -> bytes:
    """The command that erases the sector an address lies in.

    The same command without an address erases everything; that one is never made.
    """
    return bytes((ERASE,)) + at.to_bytes(4, "little")


def name_of(text: str) -> str:
    """The memory's name in an interface's text: ``@Internal Flash  /0x…`` is ``Internal Flash``."""
    return text.removeprefix("@").partition("/")[0].strip()


def layout(text: str) -> tuple[Sector, ...]:
    """The sectors an interface's text describes: ``@Internal Flash  /0x08000000/04*016Kg,01*064Kg``.

    The letter tells what a sector takes: bit 0 of (letter - ``a`` + 1) reading, bit 1 erasing, bit 2 writing.

    Raises
    ------
    ValueError
        When it is no such text, or a part cannot be read, erased and written.
    """
    made: list[Sector] = []
    parts = _PART.findall(text)
    if not text.startswith("@") or not parts:
        raise ValueError(f"{text!r} describes no memory")
    for start, runs in parts:
        at = int(start, 16)
        for run in runs.split(","):
            found = _RUN.fullmatch(run.strip(","))
            if found is None:
                raise ValueError(f"{run!r} is no run of sectors")
            count, size, unit, letter = found.groups()
            if letter != "g":
                raise ValueError(f"{run!r}: not every sector can be read, erased and written")
            for _ in range(int(count)):
                made.append(Sector(len(made), at, int(size) * _SIZES[unit]))
                at += int(size) * _SIZES[unit]
    return tuple(made)
