"""Images made up for the tests."""

from __future__ import annotations

import hashlib
import struct
from typing import Any

from asflown.core.catalog import ImageWord, OptionalFunction, Release
from asflown.core.image.flash import FlashMap, Region
from asflown.core.image.model import Container, Image, Segment
from asflown.core.image.processors import PROCESSORS

F407 = PROCESSORS["STM32F407xG"]
AT = 0x08000000


def firmware(
    size: int = 40_000, *, stack: int = 0x20020000, reset: int = AT + 0x189, board: str = "wrackline-2", version: str = "marram 5.0"
) -> bytes:  # fmt: skip
    """A program as the demo's makers build them: vectors, then the words at 1024."""
    body = bytearray((i * 7 + 3) & 0xFF for i in range(size))
    body[:0x188] = bytes(0x188)
    struct.pack_into("<II", body, 0, stack, reset)
    body[1024:1056] = board.encode().ljust(32, b"\0")
    body[1056:1088] = version.encode().ljust(32, b"\0")
    return bytes(body)


def image(data: bytes, at: int = AT, **more: Any) -> Image:
    """An image of one segment."""
    more = {"name": "made.bin", "container": Container.RAW, **more}
    return Image(
        segments=(Segment(at, data),), size=len(data), sha256=hashlib.sha256(data).hexdigest(), **more
    )


BOARD = FlashMap(F407, "wrackline-2", AT, (Region("settings", 0x080E0000, 0x08100000),))
RELEASE = Release(
    "marram-5.0",
    "marram",
    "5.0",
    functions=(OptionalFunction("lamps", 6144), OptionalFunction("chart", 900_000), OptionalFunction("x")),
    image_words=(ImageWord("board", 1024, "wrackline-2"), ImageWord("version", 1056, "marram 5.0")),
    boards=("wrackline-2", "wrackline-3"),
)
