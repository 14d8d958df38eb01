"""The vector table at an image's start.

Source: ARMv7-M Architecture Reference Manual (DDI 0403E), B1.5; from memory, with the worked accept and
refuse cases of section 12.7 of the check values.
"""

from __future__ import annotations

from collections.abc import Iterator

from asflown.core.image.facts import Fact, agrees, differs, not_stated
from asflown.core.image.flash import Flash
from asflown.core.image.model import Image

STACK, RESET, PLACE, RESERVED = (
    "initial stack pointer",
    "reset vector",
    "vector table's place",
    "reserved vectors",
)
_RESERVED = (7, 8, 9, 10, 13)


def vector_facts(image: Image, flash: Flash, at: int) -> Iterator[Fact]:
    """Initial stack pointer, reset vector, alignment and reserved words of the table at an address."""
    stack, reset = image.word(at), image.word(at + 4)
    if stack is None or reset is None:
        yield differs(PLACE, f"the image has no vector table at 0x{at:08X}", bricks=True)
        return
    yield _place(flash, at)
    yield _stack(stack, flash)
    yield _reset(reset, image)
    yield _reserved(image, at)


def _place(flash: Flash, at: int) -> Fact:
    need = flash.vector_alignment
    if at % need:
        return differs(
            PLACE, f"0x{at:08X} is no multiple of {need}, as {flash.processor} needs it", bricks=True
        )
    return agrees(PLACE, f"0x{at:08X}, a multiple of {need}")


def _stack(stack: int, flash: Flash) -> Fact:
    said = f"0x{stack:08X}"
    if stack % 4:
        return differs(STACK, f"{said} is no multiple of 4", bricks=True)
    # the stack grows down from below its first word: one past the end of a RAM is its usual place
    inside = next((ram for ram in flash.ram if ram.start < stack <= ram.end), None)
    if inside is None:
        rams = ", ".join(f"{ram.name} 0x{ram.start:08X}-0x{ram.end - 1:08X}" for ram in flash.ram)
        return differs(STACK, f"{said} lies in no RAM of {flash.processor} ({rams})", bricks=True)
    uneven = "; it is no multiple of 8, as the procedure call standard wants it" if stack % 8 else ""
    return agrees(STACK, f"{said}, in {inside.name}{uneven}")


def _reset(reset: int, image: Image) -> Fact:
    said = f"0x{reset:08X}"
    if not reset & 1:
        return differs(RESET, f"{said} is even: this processor runs Thumb code alone", bricks=True)
    if not image.holds(reset - 1):
        return differs(RESET, f"{said} points outside the image", bricks=True)
    return agrees(RESET, f"{said}, odd, inside the image")


def _reserved(image: Image, at: int) -> Fact:
    words = {number: image.word(at + 4 * number) for number in _RESERVED}
    if any(word is None for word in words.values()):
        return not_stated(RESERVED, "the image ends before them")
    used = [str(number) for number, word in words.items() if word]
    if used:
        return differs(RESERVED, f"words {', '.join(used)} are not 0", bricks=False)
    return agrees(RESERVED, "words 7 to 10 and 13 are 0")
