"""Check an image against a board and a release: facts, before anything is written."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.core.image.facts import Checked
from asflown.core.image.flash import FlashMap
from asflown.core.image.model import Image
from asflown.core.image.origin import Signed, Stated
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.needs import Store
    from asflown.core.catalog import Release
    from asflown.core.record import Original

#: Reads a file by its name: bytes and what it is called.
ReadFile = Callable[[str], tuple[bytes, str]]
_LIST, _SIGNATURE, _KEY = "SHA256SUMS", "SHA256SUMS.minisig", "minisign.pub"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a person gave: names of files, and of a release.

    Attributes
    ----------
    image
        The image file.
    board
        A board's description (a file), a board kept, or a processor's name.
    release
        A release brought in.
    at
        Where a raw binary belongs, where the board does not say so.
    old
        The image that is on the board now.
    signature, key, hashes
        The maker's files, where they did not come with the release.
    """

    image: str
    board: str
    release: str | None = None
    at: int | None = None
    old: str | None = None
    signature: str | None = None
    key: str | None = None
    hashes: str | None = None


def check_files(wanted: Wanted, read_file: ReadFile, store: Callable[[], Store]) -> Checked:
    """Check an image file.

    Parameters
    ----------
    store
        Opened only where a release was named.

    Raises
    ------
    InputError, UsageError
        When a file cannot be read as what it is, or there is no such board or release.
    """
    to = flash_map(wanted.board, read_file, store)
    return check_against(wanted, to, read_file, store)


def check_against(wanted: Wanted, to: FlashMap, read_file: ReadFile, store: Callable[[], Store]) -> Checked:
    """Check an image file against a board that was found already.

    Raises
    ------
    InputError, UsageError
        When a file cannot be read as what it is, or there is no such release.
    """
    from asflown.core.image.check import Question, check
    from asflown.formats.image.reading import read

    at = to.raw_at if wanted.at is None else wanted.at
    data, name = read_file(wanted.image)
    image = read(data, name, at=at)
    old = old_image(wanted.old, read_file, at)
    release, brought = _release(wanted.release, store)
    stated = _stated(wanted, data, brought, read_file)
    return check(Question(image, to, release, stated, old))


def _release(id: str | None, store: Callable[[], Store]) -> tuple[Release | None, Mapping[str, bytes]]:
    """The release that was named, and what of its maker's came with it."""
    if not id:
        return None, {}
    from asflown.app import kept

    release = kept.release(store(), id)
    return release, _of_release(store(), release)


def old_image(word: str | None, read_file: ReadFile, at: int) -> Image | None:
    """The image that is on the board now, ``None`` where none was given."""
    from asflown.formats.image.reading import read

    if word is None:
        return None
    data, name = read_file(word)
    return read(data, name, at=at)


def flash_map(word: str, read_file: ReadFile, store: Callable[[], Store]) -> FlashMap:
    """The board a word names: a description's file, a board kept, or a processor and nothing more.

    Raises
    ------
    InputError, UsageError
        When it is neither.
    """
    from asflown.core.image.processors import PROCESSORS, processor
    from asflown.formats.image import flash_map as file

    flash = processor(word)
    if flash is not None:
        return FlashMap(flash)
    if not word.endswith(".toml"):
        from asflown.app.boards import board_file

        described = board_file(store(), word)
        if described is not None:
            return file.read(described, f"{word}.toml")
        raise UsageError(
            f"{word!r} is no board's description (a .toml file, or a board kept) and no processor there is a"
            " table for",
            next_step=f"give the board's description, or one of: {', '.join(PROCESSORS)}",
        )
    data, name = read_file(word)
    return file.read(data, name)


def _of_release(store: Store, release: Release) -> Mapping[str, bytes]:
    """The maker's list, signature and key that came with a release."""
    wanted: list[Original] = [o for o in release.originals if o.name in (_LIST, _SIGNATURE, _KEY)]
    return {original.name: store.original(original.sha256) for original in wanted}


def _stated(wanted: Wanted, data: bytes, brought: Mapping[str, bytes], read_file: ReadFile) -> Stated:
    from asflown.formats.image import manifest

    def given(word: str | None, name: str) -> tuple[bytes, str] | None:
        return read_file(word) if word else ((brought[name], name) if name in brought else None)

    listed = given(wanted.hashes, _LIST)
    hashes = manifest.read(*listed) if listed else None
    signature, key = given(wanted.signature, _SIGNATURE), given(wanted.key, _KEY)
    if signature is None:
        return Stated(hashes)
    if key is None:
        return Stated(hashes, None, f"{signature[1]} is there, but no key to check it with (--key FILE)")
    over_list = wanted.signature is None or _names_list(wanted.signature)
    if over_list and listed is None:
        return Stated(hashes, None, f"{signature[1]} signs a list of hashes, which was not given")
    message, of = (listed[0], "the list of hashes") if over_list and listed else (data, "the image")
    return Stated(hashes, _signed(message, signature, key, of, came_along=wanted.key is None))


def _names_list(path: str) -> bool:
    return path.replace("\\", "/").rpartition("/")[2].upper().startswith(_LIST)


def _signed(
    message: bytes, signature: tuple[bytes, str], key: tuple[bytes, str], of: str, *, came_along: bool
) -> Signed:
    from asflown.formats.image import minisign

    came = "it came with the release: fetch it from its maker apart to know who signed"
    return minisign.verify(
        message,
        *signature,
        minisign.read_key(*key),
        of=of,
        key_from=came if came_along else f"from {key[1]}",
    )


def address(text: str | None) -> int | None:
    """An address as people write it: ``0x08000000``, or a decimal number.

    Raises
    ------
    UsageError
        When it is none.
    """
    if text is None:
        return None
    try:
        value = int(text, 0)
    except ValueError:
        value = -1
    if not 0 <= value < 1 << 32:
        raise UsageError(f"{text!r} is no 32-bit address", next_step="write it like 0x08000000")
    return value
