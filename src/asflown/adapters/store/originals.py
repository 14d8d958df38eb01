"""Originals as plain dated files, written whole and flushed before the store knows of them."""

from __future__ import annotations

import hashlib
import os
import re
import threading
from pathlib import Path

from asflown.adapters.to_disk import flush_folder, write_flushed
from asflown.errors import Damaged

FOLDER = "originals"


def write_original(store: Path, data: bytes, name: str, at: str) -> tuple[str, str]:
    """Write the bytes to ``originals/YYYY/MM/DD/<time>-<hash>-<name>``.

    Returns
    -------
    tuple of str
        SHA-256 (hex) and the path relative to the store. A file left by a process that was killed
        before its transaction ended is harmless: nothing names it, and ``verify`` lists it.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    day, _, clock = at.partition("T")
    time = re.sub(r"[^0-9]", "", clock)[:6] or "000000"
    relative = f"{FOLDER}/{_dated(day)}/{time}-{sha256[:12]}-{_safe(name)}"
    put_file(store, relative, data)
    return sha256, relative


def put_file(store: Path, relative: str, data: bytes) -> None:
    """Write a file below the store so that it lasts: another name first, to the disk, then renamed."""
    target = store / relative
    _make_folders(store, target.parent)
    partial = target.with_name(f".{target.name}.{os.getpid()}-{threading.get_ident()}.part")
    partial.unlink(missing_ok=True)  # of a process that was killed
    try:
        write_flushed(partial, data)
        os.replace(partial, target)
    finally:
        partial.unlink(missing_ok=True)
    flush_folder(target.parent)


def _make_folders(store: Path, folder: Path) -> None:
    """Make the folders that are missing, and bring each new name to the disk."""
    missing = [one for one in (folder, *folder.parents) if store in one.parents and not one.exists()]
    for one in reversed(missing):
        one.mkdir(exist_ok=True)
        flush_folder(one.parent)


def _dated(day: str) -> str:
    """``2026/03/07``, whatever the clock gave."""
    found = re.fullmatch(r"(\d{4,})-(\d\d)-(\d\d)", day)
    return "/".join(found.groups()) if found else "undated"


def _safe(name: str) -> str:
    """A file name without path parts, odd signs or length."""
    base = re.split(r"[\\/]", name)[-1]
    return re.sub(r"[^A-Za-z0-9._-]+", "_", base).strip("._")[-60:].lstrip("._") or "original"


def is_whole(store: Path, relative: str, sha256: str) -> bool:
    """Whether the file is there with the bytes it had."""
    try:
        return hashlib.sha256((store / relative).read_bytes()).hexdigest() == sha256
    except OSError:
        return False


def read_original(store: Path, relative: str, sha256: str) -> bytes:
    """The bytes of an original, checked against their SHA-256.

    Raises
    ------
    Damaged
        When the file is gone or changed.
    """
    path = store / relative
    step = "put the file back from a copy, or read the same file in again: asflown found"
    try:
        data = path.read_bytes()
    except OSError as error:
        what = f"the original is gone or cannot be read: {error.strerror}"
        raise Damaged(what, where=str(path), next_step=step) from None
    if hashlib.sha256(data).hexdigest() != sha256:
        raise Damaged(
            f"the original was changed: its SHA-256 is not {sha256[:12]}…", where=str(path), next_step=step
        )
    return data


def loose_files(store: Path, named: set[str]) -> tuple[str, ...]:
    """Files among the originals that nothing names, by path relative to the store."""
    found = (path.relative_to(store).as_posix() for path in (store / FOLDER).rglob("*") if path.is_file())
    return tuple(sorted(path for path in found if path not in named))
