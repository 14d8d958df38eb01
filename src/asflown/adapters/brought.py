"""What a person points at with one word: a folder, a file, or standard input."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from asflown.adapters.files import STANDARD_INPUT, read_file, read_folder, readable
from asflown.app.needs import Brought


def bring(word: str, beside: Sequence[str] = ()) -> Brought | None:
    """The folder or file of that name, ``None`` where nothing is there.

    Raises
    ------
    InputError
        When it is there and cannot be read.
    """
    if word in STANDARD_INPUT:
        data, _ = read_file(word)
        return Brought("standard input", {"standard input": data})
    if not os.path.lexists(word):
        return None
    path = Path(word)
    if path.is_dir():
        return Brought(word, read_folder(word), is_folder=True, folder=_name(path))
    data, name = read_file(word)
    files = {name: data}
    for other in beside:
        if other != name and path.with_name(other).is_file():
            files[other] = read_file(str(path.with_name(other)))[0]
    return Brought(word, {name: data, **files}, folder=_name(path.parent))


def _name(folder: Path) -> str:
    """A folder's own name, also where it was given as ``.``."""
    return readable(folder.resolve().name)
