"""What an aircraft says of itself (AUTOPILOT_VERSION), in words."""

from __future__ import annotations

#: FIRMWARE_VERSION_TYPE: kinds of a release by number (MAVLink common, from memory).
_KINDS = {0: "in development", 64: "alpha", 128: "beta", 192: "candidate", 255: "release"}


def software(number: int) -> str:
    """The software's version: major, minor, patch and kind, each a byte.

    Examples
    --------
    >>> software(0x050102FF)
    '5.1.2, release'
    >>> software(0)
    'not told'
    """
    if number == 0:
        return "not told"
    major, minor, patch, kind = number.to_bytes(4, "big")
    return f"{major}.{minor}.{patch}, {_KINDS.get(kind, f'kind {kind}')}"


def board(number: int) -> str:
    """The board's version, as a number."""
    return "not told" if number == 0 else str(number)
