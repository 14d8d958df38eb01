"""Hand-overs on the disk: a folder, or a zip of it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from asflown.adapters.files import read_file, read_folder, write_new
from asflown.adapters.folders import write_folder
from asflown.errors import InputError
from asflown.formats import zipped

#: The largest hand-over read, bytes.
LARGEST = zipped.LARGEST


def refuse_existing(path: str) -> None:
    """Refuse a place where something is already, before anything is made.

    Raises
    ------
    InputError
        When it is there.
    """
    if Path(path).exists():
        raise InputError(
            "is there already and is not written over", where=path, next_step="give another name"
        )


def write_bag(path: str, files: Mapping[str, bytes]) -> Path:
    """Write a hand-over: a zip when the name ends in ``.zip``, else a folder; whole or not at all."""
    if path.lower().endswith(".zip"):
        return write_new(path, zipped.pack(files, Path(path).stem))
    return write_folder(path, files)


def read_bag(path: str) -> Mapping[str, bytes]:
    """The files of a hand-over, folder or zip.

    Raises
    ------
    InputError
        When it cannot be read, or a folder holds a link: a hand-over has plain files only.
    """
    if Path(path).is_dir():
        links = [found for found in sorted(Path(path).rglob("*")) if found.is_symlink()]
        if links:
            raise InputError(
                "holds a link, and a hand-over has plain files only",
                where=str(links[0]),
                next_step="give the folder as asflown handover made it",
            )
        return read_folder(path, largest=LARGEST)
    data, name = read_file(path, largest=LARGEST)
    return zipped.unpack(data, name)
