"""Read an image file, whatever it is."""

from __future__ import annotations

import hashlib
import re

from asflown.core.image.model import ADDRESS_SPACE, Container, Image, Segment
from asflown.formats.image import suffix
from asflown.formats.image.parts import Content, refused

#: A file that starts like this is a container of several targets, made for one maker's tools.
_SEVERAL_TARGETS = b"DfuSe"
_PACKED = {b"PK\x03\x04": "a zip", b"\x1f\x8b": "a gzip", b"\xfd7zXZ": "an xz", b"7z\xbc\xaf": "a 7z"}
_TEXT_LOOKED_AT = 1 << 16
_OF_TEXT = bytes(range(32, 127)) + b"\r\n\t"
#: How the first record of an Intel HEX file starts; what follows may be damaged.
_RECORD = re.compile(rb"\s{0,16}:[0-9A-Fa-f]{8}")


def read(data: bytes, name: str, *, at: int | None = None) -> Image:
    """Read an image: raw binary, Intel HEX, ELF or UF2, each with or without a USB DFU suffix.

    Parameters
    ----------
    at
        Where a raw binary belongs; the other containers say so themselves.

    Raises
    ------
    InputError
        Saying what is wrong and where: an empty file, a text, a packed file, a container that does not hold.
    """
    if not data:
        raise refused("is empty", name)
    body, tail = suffix.parted(data, name)
    container = _container(body, name)
    content = _content(container, body, name, at)
    return Image(
        name=name,
        container=container,
        segments=content.segments,
        size=len(data),
        sha256=hashlib.sha256(data).hexdigest(),
        checked=content.checked,
        entry=content.entry,
        family=content.family,
        suffix=tail,
        remarks=content.remarks,
    )


def _content(container: Container, body: bytes, name: str, at: int | None) -> Content:
    """What the reader of a container makes of it; only this one is imported."""
    if container is Container.RAW:
        return _raw(body, name, at)
    if container is Container.HEX:
        from asflown.formats.image import hexfile

        return hexfile.read(body, name)
    if container is Container.ELF:
        from asflown.formats.image import elf

        return elf.read(body, name)
    from asflown.formats.image import uf2

    return uf2.read(body, name)


def _container(body: bytes, name: str) -> Container:
    if not body:
        raise refused("holds a DFU suffix and nothing else", name)
    if body.startswith(b"\x7fELF"):
        return Container.ELF
    if body.startswith(b"UF2\n"):
        return Container.UF2
    for magic, what in _PACKED.items():
        if body.startswith(magic):
            raise refused(f"is {what} file, not an image", name, "unpack it and give the image inside")
    if body.startswith(_SEVERAL_TARGETS):
        raise refused(
            "is a container of several targets, which is not read",
            name,
            "take the maker's binary, HEX or ELF file",
        )
    if _RECORD.match(body) or (body.lstrip()[:1] == b":" and _is_text(body)):
        return Container.HEX
    if _is_text(body):
        raise refused(
            "is a text, not an image: a settings listing or a web page, perhaps",
            name,
            "give the image; a settings listing goes to: asflown found FILE",
        )
    return Container.RAW


def _is_text(body: bytes) -> bool:
    """Whether a file is a text: an image of flash holds zero bytes or bytes of no text near its start."""
    head = body[:_TEXT_LOOKED_AT]
    if 0 in head:
        return False
    if len(head.translate(None, _OF_TEXT)) <= len(head) // 3:
        return True
    text = head.decode("utf-8", "ignore")
    is_utf8 = len(head) - len(text.encode()) <= 3  # the last letter may be cut
    return is_utf8 and all(c.isprintable() or c in "\r\n\t\f\x1b\x08\ufeff" for c in text)


def _raw(body: bytes, name: str, at: int | None) -> Content:
    if at is None:
        raise refused(
            "is a raw binary, which does not say where it belongs",
            name,
            "say for which board: --board FILE; or at which address: --at 0x08000000",
        )
    if at + len(body) > ADDRESS_SPACE:
        raise refused(f"at 0x{at:08X} goes past the end of the address space", name)
    return Content((Segment(at, body),))
