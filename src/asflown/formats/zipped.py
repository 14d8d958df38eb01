"""Zip files of a hand-over: a mapping from path to bytes, packed the same way every time."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Mapping

from asflown.errors import Damaged, InputError
from asflown.formats.bag import is_safe

#: The most that is unpacked, bytes; a zip that holds more is refused before it is unpacked.
LARGEST = 1024 * 1024 * 1024

#: What the library raises on zips that are none or broken.
_BROKEN = (
    zipfile.BadZipFile,
    OSError,
    RuntimeError,
    EOFError,
    ValueError,
    OverflowError,
    IndexError,
    struct.error,
    zlib.error,
)

#: One time for every file, so that the same files give the same zip: the earliest a zip can hold.
_TIME = (1980, 1, 1, 0, 0, 0)


def pack(files: Mapping[str, bytes], folder: str) -> bytes:
    """Pack files into a zip, all below one folder."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for path, data in files.items():
            info = zipfile.ZipInfo(f"{folder}/{path}", _TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, data)
    return made.getvalue()


def unpack(data: bytes, name: str, *, largest: int = LARGEST) -> dict[str, bytes]:
    """The files of a zip, without the folder they all stand in.

    Raises
    ------
    InputError
        When it is no zip, holds too much, or a path leads out of it.
    Damaged
        When a file in it does not unpack.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except _BROKEN as error:
        raise InputError(
            f"is no zip file: {error}", where=name, next_step="give a folder or zip of a hand-over"
        ) from error
    with archive:
        infos = [info for info in archive.infolist() if not info.is_dir()]
        if sum(info.file_size for info in infos) > largest:
            raise InputError(f"holds more than {largest // 1024**2} MB", where=name)
        unsafe = [info.filename for info in infos if not is_safe(info.filename)]
        if unsafe:
            raise InputError(f"a path leads out of the zip: {unsafe[0]!r}", where=name)
        try:
            files = {info.filename: archive.read(info) for info in infos}
        except _BROKEN as error:
            raise Damaged(f"does not unpack: {error}", where=name, next_step="ask for it again") from error
    return _without_folder(files)


def _without_folder(files: Mapping[str, bytes]) -> dict[str, bytes]:
    tops = {path.split("/", 1)[0] for path in files}
    if len(tops) != 1 or any("/" not in path for path in files):
        return dict(files)
    return {path.split("/", 1)[1]: data for path, data in files.items()}
