"""Lay an image beside a board, fact by fact, before anything is written. No hardware is needed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.core.image.facts import Checked, Fact, Fit, agrees, differs, not_stated
from asflown.core.image.flash import FlashMap, Sector
from asflown.core.image.model import Container, Image
from asflown.core.image.origin import NOTHING, Stated, origin_facts
from asflown.core.image.places import place_facts, room_left
from asflown.core.image.vectors import vector_facts
from asflown.core.image.words import word_facts

if TYPE_CHECKING:
    from asflown.core.catalog import OptionalFunction, Release

#: Vendor and product of the DFU device in the processors' ROM (example of section 12.3; from memory).
ROM_DFU = (0x0483, 0xDF11)


@dataclass(frozen=True, slots=True)
class Question:
    """What an image is checked against; what is ``None`` was not stated.

    Attributes
    ----------
    old
        The image that is on the board now.
    """

    image: Image
    to: FlashMap
    release: Release | None = None
    stated: Stated = NOTHING
    old: Image | None = None


def check(question: Question) -> Checked:
    """Every fact of an image against a board and a release."""
    image, to, release = question.image, question.to, question.release
    at = to.raw_at if to.image_at is not None else image.start
    facts = [
        *_container(image),
        *_processor(image, to),
        *place_facts(image, to),
        *vector_facts(image, to.flash, at),
        *_size(image, to),
        *_boards(to, release),
        *word_facts(
            image, at, release.image_words if release else None, to.board, release.id if release else None
        ),
        *origin_facts(image, question.stated),
    ]
    room = room_left(image, to)
    touched = sectors_of(image, to)
    changed = None if question.old is None else tuple(s for s in touched if _differs(s, image, question.old))
    return Checked(image, to, tuple(facts), touched, changed, room, _functions(release, room))


def sectors_of(image: Image, to: FlashMap) -> tuple[Sector, ...]:
    """The sectors that hold any byte of an image."""
    return tuple(s for s in to.flash.sectors if image.meets(s.start, s.end))


def _differs(sector: Sector, new: Image, old: Image) -> bool:
    return new.filled(sector.start, sector.end) != old.filled(sector.start, sector.end)


def _container(image: Image) -> Iterator[Fact]:
    kind = image.container.value
    if image.checked:
        yield agrees("container", f"{kind}: {image.checked}")
    else:
        yield not_stated("container", f"{kind}: this kind of file carries no checksum")
    if image.suffix is None:
        yield not_stated("DFU suffix", "the file has none")
        return
    ids = f"{image.suffix.vendor:04X}:{image.suffix.product:04X}"
    if image.suffix.is_for(*ROM_DFU):
        yield agrees("DFU suffix", f"CRC right, for {ids}")
    else:
        says = f"CRC right, but for the device {ids}; the processor's own loader is 0483:DF11"
        yield differs("DFU suffix", says, bricks=False)


def _processor(image: Image, to: FlashMap) -> Iterator[Fact]:
    subject = "processor"
    if image.container is Container.ELF:
        says = f"an ELF for a 32-bit Arm, as {to.flash.processor} is one; which one it does not say"
        yield not_stated(subject, says)
    elif image.family is None or to.flash.uf2_family is None:
        yield not_stated(subject, "the file does not say for which processor it is")
    elif image.family != to.flash.uf2_family:
        says = f"family word 0x{image.family:08X}; {to.flash.processor} has 0x{to.flash.uf2_family:08X}"
        yield differs(subject, says, bricks=True)
    else:
        yield agrees(subject, f"family word 0x{image.family:08X}, as {to.flash.processor} has")


def _size(image: Image, to: FlashMap) -> Iterator[Fact]:
    room = room_left(image, to)
    if room is None:
        says = f"{image.length} bytes do not fit into the flash of {to.flash.processor} where they want to go"
        yield differs("size", says, bricks=True)
    else:
        yield agrees("size", f"{image.length} bytes; {room} bytes are left after it")


def _boards(to: FlashMap, release: Release | None) -> Iterator[Fact]:
    subject = "release's boards"
    if release is None or release.boards is None:
        yield not_stated(subject, "no release states for which boards its images are")
    elif to.board is None:
        yield not_stated(
            subject, f"the board's name was not given; {release.id} states {_many(release.boards)}"
        )
    elif to.board in release.boards:
        yield agrees(subject, f"{release.id} states images for {to.board}")
    else:
        says = f"{release.id} states images for {_many(release.boards)}, not for {to.board}"
        yield differs(subject, says, bricks=True)


def _many(names: tuple[str, ...]) -> str:
    return ", ".join(names) or "no board"


def _functions(release: Release | None, room: int | None) -> tuple[Fit, ...]:
    def fits(item: OptionalFunction) -> bool | None:
        return None if item.flash is None or room is None else item.flash <= room

    functions = (release.functions or ()) if release else ()
    return tuple(Fit(item.name, item.flash, fits(item)) for item in functions)
