"""What the readers of image files share."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.image.model import Segment
from asflown.errors import InputError

NEXT = "fetch the file again from its maker, and compare its SHA-256"


@dataclass(frozen=True, slots=True)
class Content:
    """What a container holds, before the file's own hash and suffix are added."""

    segments: tuple[Segment, ...]
    checked: str = ""
    entry: int | None = None
    family: int | None = None
    remarks: tuple[str, ...] = ()


def refused(what: str, where: str, next_step: str = NEXT) -> InputError:
    """The error of a file that is not taken."""
    return InputError(what, where=where, next_step=next_step)


def hexed(address: int) -> str:
    """An address as the manuals print it: ``0x08000000``."""
    return f"0x{address:08X}"
