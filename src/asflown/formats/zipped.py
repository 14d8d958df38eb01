"""Zip files of a hand-over: a mapping from path to bytes, packed the same way every time."""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence

from asflown.errors import Damaged, Fault, InputError
from asflown.formats.bag import is_safe

#: The most that is unpacked, bytes; a zip that holds more is refused before it is unpacked. A zip unpacks to
#: no more than it states: the library stops reading a file at its stated size.
LARGEST = 512 * 1024 * 1024

#: The most files in one zip.
MOST = 50_000

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
            info.external_attr = (stat.S_IFREG | 0o644) << 16
            archive.writestr(info, data)
    return made.getvalue()


def unpack(data: bytes, name: str, *, largest: int = LARGEST) -> dict[str, bytes]:
    """The files of a zip, without the folder they all stand in.

    Raises
    ------
    InputError
        When it is no zip, holds too much, a path leads out of it, a name stands in it twice, or it holds
        anything but plain files.
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
        infos = [info for info in archive.infolist() if not info.filename.endswith("/")]
        faults = tuple(_faults(infos, largest))
        if faults:
            raise InputError(
                "is no zip that is unpacked here",
                where=name,
                faults=faults[:50],
                next_step="give a zip that asflown handover made",
            )
        try:
            files = {info.filename: archive.read(info) for info in infos}
        except _BROKEN as error:
            raise Damaged(f"does not unpack: {error}", where=name, next_step="ask for it again") from error
    return _without_folder(files)


def _faults(infos: Sequence[zipfile.ZipInfo], largest: int) -> Iterator[Fault]:
    """What would make it more than plain files that stay inside: told before anything is unpacked."""
    if sum(info.file_size for info in infos) > largest:
        yield Fault(f"holds more than {largest / 1024**2:.0f} MB")
    if len(infos) > MOST:
        yield Fault(f"holds more than {MOST} files")
    seen: set[str] = set()
    for info in infos:
        mode = info.external_attr >> 16
        if not is_safe(info.filename):
            yield Fault("a path leads out of the zip", repr(info.filename))
        if info.filename in seen:
            yield Fault("stands in it twice", repr(info.filename))
        if mode and stat.S_IFMT(mode) not in (0, stat.S_IFREG):
            yield Fault("is a link or a device, no plain file", repr(info.filename))
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) or info.flag_bits & 1:
            yield Fault("is encrypted, or packed in a way that is not read", repr(info.filename))
        seen.add(info.filename)


def _without_folder(files: Mapping[str, bytes]) -> dict[str, bytes]:
    tops = {path.split("/", 1)[0] for path in files}
    if len(tops) != 1 or any("/" not in path for path in files):
        return dict(files)
    return {path.split("/", 1)[1]: data for path, data in files.items()}
