"""Bringing files and folders to the disk, so that they last through a power cut where the platform can."""

from __future__ import annotations

import os
from pathlib import Path


def write_flushed(path: Path, data: bytes) -> None:
    """Write a file that must not be there yet, and flush it.

    Raises
    ------
    OSError
        ``FileExistsError`` when it is there; what the system says otherwise.
    """
    with open(path, "xb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def flush_folder(folder: Path) -> None:
    """Make a new name or a rename in a folder last, where the system lets a folder be opened."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
