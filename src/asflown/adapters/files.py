"""Reading and writing files and folders, with errors a person can act on. No judgement of what is in them."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from asflown.errors import InputError

#: The largest file read, bytes; larger ones are refused with this number.
LARGEST = 64 * 1024 * 1024

#: Words that stand for standard input.
STANDARD_INPUT = ("-", "<standard input>")


def read_file(path: str, *, largest: int = LARGEST) -> tuple[bytes, str]:
    """The bytes of a file, or of standard input, and the name to keep them under.

    Raises
    ------
    InputError
        When it cannot be read or is larger than ``largest`` bytes.
    """
    if path in STANDARD_INPUT:
        data, name = sys.stdin.buffer.read(largest + 1), "standard-input.txt"
    else:
        name = Path(path).name
        try:
            with open(path, "rb") as stream:
                data = stream.read(largest + 1)
        except OSError as error:
            raise InputError(_said(error), where=path, next_step="give a file that can be read") from error
    if len(data) > largest:
        raise InputError(
            f"larger than {largest // (1024 * 1024)} MB, the most that is read",
            where=path,
            next_step="check that this is the right file; cut away what is no settings listing",
        )
    return data, name


def read_folder(path: str, *, largest: int = LARGEST) -> Mapping[str, bytes]:
    """The bytes of every file below a folder by its path relative to it (``/`` between parts), sorted.

    Hidden files are left out.

    Raises
    ------
    InputError
        When the folder or a file in it cannot be read.
    """
    root = Path(path)
    if not root.is_dir():
        what = "is a file, a folder is wanted" if root.exists() else "there is no such folder"
        raise InputError(what, where=path, next_step="give the folder that holds the files")
    files: dict[str, bytes] = {}
    for found in sorted(root.rglob("*")):
        inside = found.relative_to(root)
        if found.is_file() and not any(part.startswith(".") for part in inside.parts):
            files[inside.as_posix()] = read_file(str(found), largest=largest)[0]
    return files


def write_new(path: str, data: bytes) -> Path:
    """Write a file that must not be there yet, whole or not at all.

    Raises
    ------
    InputError
        When it exists or cannot be written.
    """
    target = Path(path)
    if target.exists():
        raise InputError(
            "is there already and is not written over", where=path, next_step="give another name"
        )
    partial = target.with_name(target.name + ".part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with open(partial, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.link(partial, target)
    except OSError as error:
        raise InputError(_said(error), where=path, next_step="give a place that can be written") from error
    finally:
        partial.unlink(missing_ok=True)
    return target


def _said(error: OSError) -> str:
    text = error.strerror or str(error)
    return text[:1].lower() + text[1:]
