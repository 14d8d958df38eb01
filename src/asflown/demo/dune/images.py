"""Images of the invented firmware, and the flash of a board that runs one. Nothing in them is code."""

from __future__ import annotations

from asflown.demo import images
from asflown.demo.dune.firmware import BOARD, OLD
from asflown.demo.releases import WORDS_AT

_LENGTH = {OLD: 74_120}
_USUAL = 81_336


def image(release: str) -> bytes:
    """The raw image of a release."""
    return images.drawn(release.replace("-", " "), release, BOARD, _LENGTH.get(release, _USUAL))


def flash(release: str) -> bytes:
    """The whole flash of a board that runs a release."""
    return images.with_image(image(release))


def words(release: str) -> bytes:
    """Where the image says what it is for."""
    rows = (("board", WORDS_AT, BOARD), ("version", WORDS_AT + 32, release.replace("-", " ")))
    return "\n".join(f'[[word]]\nkind = "{k}"\noffset = {at}\nvalue = "{v}"\n' for k, at, v in rows).encode()


def runs(whole: bytes) -> str:
    """The release that a flash holds, by the words of its image."""
    at = images.IMAGE_AT - images.FLASH + WORDS_AT + 32
    return whole[at : at + 32].rstrip(b"\0\xff").decode("ascii", "replace").replace(" ", "-")
