"""Where an image comes from: its hash against the maker's list, and the maker's signature."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from asflown.core.image.facts import Fact, agrees, differs, not_stated
from asflown.core.image.model import Image

HASH, SIGNATURE = "SHA-256", "signature"


@dataclass(frozen=True, slots=True)
class Signed:
    """What became of checking a signature.

    Attributes
    ----------
    holds
        Whether the key made it over these bytes.
    of
        What is signed: ``the image`` or ``the list of hashes``.
    key
        The key's identifier, as its maker prints it.
    key_from
        Where the key came from; a key that came with the release proves less than one fetched apart.
    comment
        The trusted comment, which is signed too.
    """

    holds: bool
    of: str
    key: str
    key_from: str
    comment: str = ""
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Stated:
    """What the maker states about the image's bytes; ``None``: nothing.

    Attributes
    ----------
    hashes
        SHA-256 by file name, of the maker's list.
    why_unsigned
        Why a signature that is there was not checked.
    """

    hashes: tuple[tuple[str, str], ...] | None = None
    signed: Signed | None = None
    why_unsigned: str = "no signature was given"


#: A maker that states nothing.
NOTHING = Stated()


def origin_facts(image: Image, stated: Stated) -> Iterator[Fact]:
    """The hash against the list, and the signature."""
    yield _hash(image, stated.hashes)
    yield not_stated(SIGNATURE, stated.why_unsigned) if stated.signed is None else _signature(stated.signed)


def _hash(image: Image, hashes: tuple[tuple[str, str], ...] | None) -> Fact:
    if not hashes:
        return not_stated(HASH, f"{image.sha256[:12]}…; no list of the maker's hashes to lay it beside")
    names = [name for name, sha256 in hashes if sha256 == image.sha256]
    if names:
        return agrees(HASH, f"{image.sha256[:12]}…, as the maker's list gives for {names[0]}")
    base = image.name.replace("\\", "/").rpartition("/")[2]
    listed = next((sha256 for name, sha256 in hashes if name.rpartition("/")[2] == base), None)
    if listed is None:
        return differs(
            HASH, f"{image.sha256[:12]}… is none of the {len(hashes)} in the maker's list", bricks=True
        )
    says = f"{image.sha256[:12]}…; the maker's list gives {listed[:12]}… for {base}: the file is another one"
    return differs(HASH, says, bricks=True)


def _signature(signed: Signed) -> Fact:
    if not signed.holds:
        return differs(SIGNATURE, f"of {signed.of} does not hold: {signed.why_not}", bricks=True)
    comment = f"; signed comment: {signed.comment}" if signed.comment else ""
    return agrees(SIGNATURE, f"of {signed.of} holds, key {signed.key} ({signed.key_from}){comment}")
