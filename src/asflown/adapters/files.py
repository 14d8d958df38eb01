"""Reading and writing files and folders, with errors a person can act on. No judgement of what is in them."""

from __future__ import annotations

import errno
import os
import secrets
import sys
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from asflown.adapters.to_disk import flush_folder, write_flushed
from asflown.errors import InputError

#: The largest file read, bytes; larger ones are refused with this number.
LARGEST = 64 * 1024 * 1024

#: The most files read from one folder.
MOST = 50_000

_RIGHT_FOLDER = "check that this is the right folder"

#: Words that stand for standard input.
STANDARD_INPUT = ("-", "<standard input>")


def read_file(path: str, *, largest: int = LARGEST) -> tuple[bytes, str]:
    """The bytes of a file, or of standard input, and the name to keep them under.

    Raises
    ------
    InputError
        When it cannot be read or is larger than ``largest`` bytes.
    """
    is_input = path in STANDARD_INPUT
    try:
        if is_input:
            data = sys.stdin.buffer.read(largest + 1) if sys.stdin else b""
        else:
            with open(path, "rb") as stream:
                data = stream.read(largest + 1)
    except (OSError, ValueError) as error:
        raise _unreadable(path, error) from error
    if len(data) > largest:
        raise InputError(
            f"larger than {largest // (1024 * 1024)} MB, the most that is read",
            where=path,
            next_step="check that this is the right file; cut away what is no settings listing",
        )
    return data, "standard-input.txt" if is_input else readable(Path(path).name)


def readable(name: str) -> str:
    """A name with bytes that are no UTF-8 shown as ``?``: what cannot be written down cannot be kept."""
    return name.encode("utf-8", "replace").decode("utf-8")


def _unreadable(path: str, error: OSError | ValueError) -> InputError:
    step = "give a file that can be read"
    if isinstance(error, IsADirectoryError):
        step = "give a file in it"
    elif isinstance(error, FileNotFoundError):
        step = "check the name; give - to read standard input"
    return InputError(_said(error), where=path, next_step=step)


def read_folder(path: str, *, largest: int = LARGEST, most: int = MOST) -> Mapping[str, bytes]:
    """The bytes of every file below a folder by its path relative to it (``/`` between parts), sorted.

    Hidden files are left out.

    Parameters
    ----------
    largest
        The most bytes all files together may have.
    most
        The most files.

    Raises
    ------
    InputError
        When the folder or a file in it cannot be read, or it holds more than that.
    """
    root = Path(path)
    if not root.is_dir():
        what = "is a file, a folder is wanted" if root.exists() else "there is no such folder"
        raise InputError(what, where=path, next_step="give the folder that holds the files")
    files: dict[str, bytes] = {}
    left = largest
    for found in sorted(root.rglob("*")):
        inside = found.relative_to(root)
        if not found.is_file() or any(part.startswith(".") for part in inside.parts):
            continue
        if len(files) >= most:
            raise InputError(f"holds more than {most} files", where=path, next_step=_RIGHT_FOLDER)
        try:
            size = found.stat().st_size
        except OSError as error:
            raise _unreadable(str(found), error) from error
        if size > left:
            what = f"holds more than {largest // (1024 * 1024)} MB, the most that is read"
            raise InputError(what, where=path, next_step=_RIGHT_FOLDER)
        data, _ = read_file(str(found), largest=left)
        left -= len(data)
        files[readable(inside.as_posix())] = data
    return files


def write_new(path: str, data: bytes, *, overwrite: bool = False, step: str = "give another name") -> Path:
    """Write a file whole or not at all: beside it under another name, to the disk, then in its place.

    Parameters
    ----------
    overwrite
        Whether a file that is there is replaced; else it is refused.
    step
        What to do next where it is refused.

    Raises
    ------
    InputError
        When it exists or cannot be written.
    """
    target = Path(path)
    if not overwrite and (target.exists() or target.is_symlink()):
        raise _there_already(path, step)
    partial = target.with_name(f".{secrets.token_hex(6)}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        write_flushed(partial, data)
        if overwrite:
            os.replace(partial, target)
        else:
            _put_in_place(partial, target)
        flush_folder(target.parent)
    except FileExistsError as error:
        raise _there_already(path, step) from error
    except (OSError, ValueError) as error:
        raise InputError(_said(error), where=path, next_step="give a place that can be written") from error
    finally:
        with suppress(OSError, ValueError):
            partial.unlink(missing_ok=True)
    return target


def refuse_full(folder: str, ending: str, *, overwrite: bool, step: str) -> None:
    """Refuse a folder that is none, or that holds files of an ending already.

    Raises
    ------
    InputError
        Naming one of them.
    """
    root = Path(folder)
    try:
        if not root.exists():
            return
        if not root.is_dir():
            raise InputError("is a file, a folder is wanted", where=folder, next_step="name a folder")
        there = sorted(one.name for one in root.iterdir() if one.suffix.lower() == ending)
    except (OSError, ValueError) as error:
        raise _unreadable(folder, error) from error
    if there and not overwrite:
        raise InputError(f"holds {there[0]} already, which is not written over", where=folder, next_step=step)


def _put_in_place(partial: Path, target: Path) -> None:
    """Give it its name unless that is taken meanwhile.

    A memory card (FAT) has no second names for a file: there it is renamed, and what another program
    wrote under that name in the same instant would be replaced.
    """
    try:
        os.link(partial, target)
    except FileExistsError:
        raise
    except OSError:
        if target.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from None
        os.rename(partial, target)


def _there_already(path: str, step: str) -> InputError:
    return InputError("is there already and is not written over", where=path, next_step=step)


def _said(error: OSError | ValueError) -> str:
    text = getattr(error, "strerror", None) or str(error)
    return text[:1].lower() + text[1:]
