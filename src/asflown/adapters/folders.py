"""Writing a folder that appears whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from asflown.adapters.to_disk import flush_folder, write_flushed
from asflown.errors import InputError


def write_folder(path: str, files: Mapping[str, bytes]) -> Path:
    """Write files into a folder that must not be there yet.

    The files are written beside it under another name, brought to the disk, and the folder is renamed
    into place: killed at any instant, it is there whole or it is not there.

    Parameters
    ----------
    files
        Bytes by file name; ``/`` between a folder and what is in it.

    Raises
    ------
    InputError
        When the folder exists or cannot be written.
    """
    target = Path(path)
    if target.exists() or target.is_symlink():
        raise InputError(
            "is there already and is not written over", where=path, next_step="name a new folder"
        )
    partial: Path | None = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        partial = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
        for name, data in files.items():
            (partial / name).parent.mkdir(parents=True, exist_ok=True)
            write_flushed(partial / name, data)
        partial.chmod(0o755)
        os.rename(partial, target)
        flush_folder(target.parent)
    except OSError as error:
        said = error.strerror or str(error)
        raise InputError(
            said[:1].lower() + said[1:], where=path, next_step="name a place that can be written"
        ) from error
    finally:
        if partial is not None and partial.exists():
            shutil.rmtree(partial, ignore_errors=True)
    return target
