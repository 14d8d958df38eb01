"""The maker's list of hashes: lines of SHA-256, two blanks, file name, as GNU coreutils' sha256sum prints."""

from __future__ import annotations

import re

from asflown.errors import Fault, InputError
from asflown.formats.hand_written import text_of

_LINE = re.compile(r"([0-9A-Fa-f]{64}) [ *](.+)")
_TAGGED = re.compile(r"SHA256 \((.+)\) = ([0-9A-Fa-f]{64})")


def read(data: bytes, name: str) -> tuple[tuple[str, str], ...]:
    """File name and SHA-256 (lower case) of every line.

    Raises
    ------
    InputError
        Naming every line that is none, and a name that stands twice with two hashes.
    """
    found: dict[str, str] = {}
    faults = []
    for number, line in enumerate(text_of(data, name).splitlines(), 1):
        text = line.strip()
        if not text or text.startswith("#"):
            continue
        plain, tagged = _LINE.fullmatch(text), _TAGGED.fullmatch(text)
        if plain is None and tagged is None:
            faults.append(Fault("expected a SHA-256, two blanks and a file name", f"{name}:{number}"))
            continue
        file, sha256 = (plain[2], plain[1]) if plain else (tagged[1], tagged[2])  # type: ignore[index]
        if found.setdefault(file, sha256.lower()) != sha256.lower():
            faults.append(Fault(f"{file} stands twice, with two hashes", f"{name}:{number}"))
    if not faults and not found:
        faults.append(Fault("holds no hash"))
    if faults:
        raise InputError(
            "is no list of hashes", where=name, faults=tuple(faults[:20]), next_step="fetch the list again"
        )
    return tuple(found.items())
