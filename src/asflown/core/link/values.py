"""Parameter values in the one float field MAVLink gives them: bytewise or by a C cast, never guessed.

MAVLink parameter protocol, *Parameter Encoding*; types from MAV_PARAM_TYPE. The field has 32 bits: what does
not fit is said, and not rounded in silence.
"""

from __future__ import annotations

import math
import struct
from decimal import Decimal
from enum import Enum, IntEnum


class ParamType(IntEnum):
    """MAV_PARAM_TYPE."""

    UINT8 = 1
    INT8 = 2
    UINT16 = 3
    INT16 = 4
    UINT32 = 5
    INT32 = 6
    UINT64 = 7
    INT64 = 8
    REAL32 = 9
    REAL64 = 10

    @property
    def is_whole(self) -> bool:
        """Whether it counts in whole numbers."""
        return self not in (ParamType.REAL32, ParamType.REAL64)

    @property
    def fits(self) -> bool:
        """Whether the field has room for it bytewise."""
        return self not in (ParamType.UINT64, ParamType.INT64, ParamType.REAL64)

    @property
    def bounds(self) -> tuple[int, int]:
        """Least and greatest whole number."""
        bits = {1: 8, 2: 8, 3: 16, 4: 16, 5: 32, 6: 32, 7: 64, 8: 64}[self]
        signed = self in (ParamType.INT8, ParamType.INT16, ParamType.INT32, ParamType.INT64)
        return (-(1 << (bits - 1)), (1 << (bits - 1)) - 1) if signed else (0, (1 << bits) - 1)


class Encoding(Enum):
    """How whole numbers stand in the float field, as the capability bits of AUTOPILOT_VERSION say."""

    BYTEWISE = "bytewise"
    C_CAST = "C cast"


#: Capability bits of AUTOPILOT_VERSION (MAV_PROTOCOL_CAPABILITY; section 14 of the check values).
BYTEWISE_BIT, C_CAST_BIT, FTP_BIT = 16, 131_072, 32
#: The greatest whole number up to which a 32-bit float has every one (IEEE 754).
EXACT = 1 << 24

#: No 32-bit float is as great (IEEE 754: half a step above the greatest).
_MOST = 3.4028235677973366e38

_CODES = {1: "<B", 2: "<b", 3: "<H", 4: "<h", 5: "<I", 6: "<i"}


def encoding_of(capabilities: int) -> Encoding:
    """The encoding an aircraft states.

    Raises
    ------
    ValueError
        When it states none, or both: neither may be guessed.
    """
    said = [
        way
        for bit, way in ((BYTEWISE_BIT, Encoding.BYTEWISE), (C_CAST_BIT, Encoding.C_CAST))
        if capabilities & bit
    ]
    if len(said) != 1:
        raise ValueError(
            "states both encodings of parameters" if said else "states no encoding of parameters"
        )
    return said[0]


def decoded(raw: bytes, kind: ParamType, encoding: Encoding) -> Decimal:
    """The value of the four bytes of a float field.

    Raises
    ------
    ValueError
        When no value of that type can stand there: 64 bits, not a number, no whole number, out of range.

    Examples
    --------
    >>> decoded(bytes.fromhex("64000000"), ParamType.INT32, Encoding.BYTEWISE)
    Decimal('100')
    >>> decoded(bytes.fromhex("0000c842"), ParamType.INT32, Encoding.C_CAST)
    Decimal('100')
    """
    if kind is ParamType.REAL32 or encoding is Encoding.C_CAST:
        value = struct.unpack("<f", raw)[0]
        if not math.isfinite(value):
            raise ValueError("is not a number")
        if not kind.is_whole:
            return shortest(value)
        low, high = kind.bounds
        if value != int(value) or not low <= int(value) <= high:
            raise ValueError(f"{value!r} is no {kind.name}")
        if abs(int(value)) > EXACT:
            raise ValueError(
                f"{int(value)} may stand for a neighbour: a 32-bit float has not every whole number"
            )
        return Decimal(int(value))
    if not kind.fits:
        raise ValueError(f"{kind.name} does not fit into the field's 32 bits")
    code = _CODES[kind]
    return Decimal(struct.unpack(code, raw[: struct.calcsize(code)])[0])


def encoded(value: Decimal, kind: ParamType, encoding: Encoding) -> bytes:
    """The four bytes of a value.

    Raises
    ------
    ValueError
        When the field cannot carry exactly that value.
    """
    if not value.is_finite():
        raise ValueError("is not a number")
    if not kind.is_whole:
        if kind is ParamType.REAL64 and encoding is Encoding.BYTEWISE:
            raise ValueError("REAL64 does not fit into the field's 32 bits")
        if abs(float(value)) >= _MOST:
            raise ValueError(f"{value} is greater than a 32-bit float can be")
        return struct.pack("<f", float(value))
    low, high = kind.bounds
    if value != int(value) or not low <= int(value) <= high:
        raise ValueError(f"{value} is no {kind.name} ({low} to {high})")
    if encoding is Encoding.C_CAST:
        if abs(int(value)) > EXACT:
            raise ValueError(f"a 32-bit float does not carry {int(value)} exactly")
        return struct.pack("<f", float(int(value)))
    if not kind.fits:
        raise ValueError(f"{kind.name} does not fit into the field's 32 bits")
    return struct.pack(_CODES[kind], int(value)).ljust(4, b"\0")


def shortest(value: float) -> Decimal:
    """The shortest decimal that is the same 32-bit float.

    Examples
    --------
    >>> shortest(struct.unpack("<f", bytes.fromhex("9a99193e"))[0])
    Decimal('0.15')
    """
    for digits in range(1, 10):
        text = f"{value:.{digits}g}"
        if abs(float(text)) < _MOST and struct.unpack("<f", struct.pack("<f", float(text)))[0] == value:
            return Decimal(text)
    return Decimal(f"{value:.9g}")
