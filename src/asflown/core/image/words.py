"""The words a release says its images hold: board, version, build."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from asflown.core.image.facts import Fact, agrees, differs, not_stated
from asflown.core.image.model import Image

if TYPE_CHECKING:
    from asflown.core.catalog import ImageWord

KINDS = ("board", "version", "build")
_SUBJECT = {"board": "board word", "version": "version word", "build": "build word"}
_LONGEST = 64


def word_facts(
    image: Image, at: int, words: Sequence[ImageWord] | None, board: str | None, release: str | None
) -> Iterator[Fact]:
    """What stands at the places a release states, kind by kind.

    Parameters
    ----------
    at
        Where the image starts: places count from there.
    board
        The board the image is checked for: of several board words only this board's agrees.
    """
    for kind in KINDS:
        stated = [word for word in words or () if word.kind == kind]
        if not stated:
            who = f"{release} does not state" if release else "no release states"
            yield not_stated(_SUBJECT[kind], f"{who} where images name their {kind}")
        elif kind == "board":
            yield _board(image, at, stated, board)
        else:
            yield _any_of(image, at, stated, kind)


def found_at(image: Image, address: int, value: str) -> bool | None:
    """Whether a text stands at an address and ends there; ``None`` where the image has no such place."""
    data = value.encode()
    found = image.at(address, len(data))
    if found is None:
        return None
    after = image.at(address + len(data), 1)
    # a longer word that starts alike is another word
    return found == data and (after is None or re.match(rb"[!-~]", after) is None)


def text_at(image: Image, address: int) -> str:
    """The printable text that starts at an address, for people to read; empty where there is none."""
    length = next((n for n in range(_LONGEST, 0, -1) if image.at(address, n) is not None), 0)
    found = re.match(rb"[ -~]*", image.at(address, length) or b"")
    return found.group().decode("ascii").strip() if found else ""


def _says(image: Image, address: int) -> str:
    text = text_at(image, address)
    return f"at 0x{address:08X} stands {text!r}" if text else f"at 0x{address:08X} stands no text"


def _board(image: Image, at: int, stated: Sequence[ImageWord], board: str | None) -> Fact:
    subject = _SUBJECT["board"]
    if board is None:
        return not_stated(subject, f"the board's name was not given; {_says(image, at + stated[0].offset)}")
    says = _says(image, at + stated[0].offset)
    for word in stated:  # a release may state the word of one board of several: the place is the same
        if found_at(image, at + word.offset, board):
            return agrees(subject, f"{board!r} at 0x{at + word.offset:08X}")
    return differs(subject, f"{says}; this board is {board!r}", bricks=True)


def _any_of(image: Image, at: int, stated: Sequence[ImageWord], kind: str) -> Fact:
    for word in stated:
        if found_at(image, at + word.offset, word.value):
            return agrees(_SUBJECT[kind], f"{word.value!r} at 0x{at + word.offset:08X}")
    wanted = " or ".join(repr(word.value) for word in stated)
    return differs(_SUBJECT[kind], f"{_says(image, at + stated[0].offset)}; stated is {wanted}", bricks=False)
