"""Images of the invented releases, and the flash of a board that runs one. Nothing in them is code."""

from __future__ import annotations

import random
import struct

from asflown.demo.firmware.boards import BOARD
from asflown.demo.releases import WORDS_AT
from asflown.demo.scenario import NEW_RELEASE, OLD_RELEASE

#: Flash and RAM of wrackline-2's processor (STM32F722xE), and where the board's maker puts things.
FLASH, SIZE, IMAGE_AT, STACK = 0x08000000, 512 * 1024, 0x08008000, 0x20020000
_SETTINGS, _LOADER = 0x4000, 0x3000
#: Words of the vector table, and those of them that are 0 (ARMv7-M).
_VECTORS, _RESERVED = 120, (7, 8, 9, 10, 13)
#: Bytes of each release's image.
_LENGTH = {OLD_RELEASE: 91_204, NEW_RELEASE: 97_460}


def image(release: str, board: str = BOARD) -> bytes:
    """The raw image of a release: vectors, its words, then seeded bytes of no meaning."""
    return drawn(f"marram {release.rpartition('-')[2]}", release, board, _LENGTH[release])


def drawn(version: str, seed: str, board: str, length: int) -> bytes:
    """An image of so many bytes that says for which board and version it is."""
    made = bytearray(random.Random(seed).randbytes(length))
    words = [STACK, *(0 if number in _RESERVED else IMAGE_AT + 0x189 for number in range(1, _VECTORS))]
    made[: 4 * _VECTORS] = struct.pack(f"<{_VECTORS}I", *words)
    for offset, text in ((0, board), (32, version)):
        at = WORDS_AT + offset
        made[at : at + 32] = text.encode().ljust(32, b"\0")
    return bytes(made)


def flash(release: str = OLD_RELEASE) -> bytes:
    """The whole flash of a board that runs a release: the maker's loader, stored settings, the image."""
    return with_image(image(release))


def with_image(body: bytes) -> bytes:
    """The whole flash of a board with this image."""
    made = bytearray(b"\xff" * SIZE)
    numbers = random.Random("the board's own")
    made[:_LOADER] = numbers.randbytes(_LOADER)
    made[_SETTINGS : _SETTINGS + 2048] = numbers.randbytes(2048)
    made[IMAGE_AT - FLASH : IMAGE_AT - FLASH + len(body)] = body
    return bytes(made)
