"""The general file of MAVLink's component metadata: where an aircraft describes its parameters."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

from asflown.errors import InputError
from asflown.formats.catalog_mavlink import unpacked
from asflown.formats.hand_written import load_json

#: COMP_METADATA_TYPE of the parameters' description (from memory).
PARAMETERS = 1
_SCHEME = "mftp:"


@dataclass(frozen=True, slots=True)
class Described:
    """Where a file lies, and the CRC it should have (``None`` where that is not stated)."""

    uri: str
    crc: int | None


def parameters_at(data: bytes, name: str) -> Described | None:
    """Where the general file says that the parameters are described, ``None`` where it says nothing of them.

    Parameters
    ----------
    data
        The general file, plain or ``.xz``.

    Raises
    ------
    InputError
        When it is no such file.
    """
    tree = load_json(unpacked(data, name), name)
    if not isinstance(tree, dict) or not isinstance(tree.get("metadataTypes"), list):
        raise InputError("has no list 'metadataTypes'", where=name)
    for item in tree["metadataTypes"]:
        if isinstance(item, dict) and item.get("type") == PARAMETERS:
            return _described(item, name)
    return None


def _described(item: dict[str, Any], name: str) -> Described:
    uri, crc = item.get("uri"), item.get("fileCrc")
    if not isinstance(uri, str) or not uri:
        raise InputError("the parameters' entry has no 'uri'", where=name)
    if crc is not None and (not isinstance(crc, int) or isinstance(crc, bool) or not 0 <= crc < 1 << 32):
        raise InputError(f"'fileCrc' is no 32-bit number: {str(crc)[:40]}", where=name)
    return Described(uri, crc)


def path_of(uri: str) -> str | None:
    """The path on the aircraft of an ``mftp`` address, ``None`` for an address elsewhere.

    Examples
    --------
    >>> path_of("mftp:///etc/parameters.json.xz"), path_of("mftp://[;comp=1]/general.json"), path_of("https://x/y")
    ('/etc/parameters.json.xz', '/general.json', None)
    """
    if not uri.startswith(_SCHEME):
        return None
    rest = uri[len(_SCHEME) :]
    if rest.startswith("//"):
        rest = rest[2:]
        if rest.startswith("["):
            rest = rest.partition("]")[2]
    return unquote(rest) or None


def checks(data: bytes) -> dict[str, int]:
    """The file's CRC-32 in each form it is written in.

    The standard names a CRC-32 and no form of it that could be looked up here; the polynomial is the same in
    all, begin and end differ.
    """
    whole = zlib.crc32(data)
    # zlib begins with ones and turns the result over; begun with 0xFFFFFFFF of its own it begins with zeros
    plain = zlib.crc32(data, 0xFFFFFFFF) ^ 0xFFFFFFFF
    return {"CRC-32": whole, "CRC-32 not turned over": whole ^ 0xFFFFFFFF, "CRC-32 begun with zeros": plain}


def form_of(data: bytes, crc: int) -> str | None:
    """Which form of the CRC a file has, ``None`` where it has none of them: it is another file."""
    return next((form for form, value in checks(data).items() if value == crc), None)
