"""Values in MAVLink's float field, against section 14 of the check values, struct and numpy."""

from __future__ import annotations

import struct
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.link.values import Encoding, ParamType, decoded, encoded, encoding_of, shortest

BYTEWISE, CAST = Encoding.BYTEWISE, Encoding.C_CAST
WHOLE = [kind for kind in ParamType if kind.is_whole and kind.fits]


@pytest.mark.parametrize(
    ("value", "kind", "encoding", "raw"),
    [
        (100, ParamType.INT32, BYTEWISE, "64000000"),
        (100, ParamType.INT32, CAST, "0000c842"),
        (-1, ParamType.INT32, BYTEWISE, "ffffffff"),
        (-1, ParamType.INT32, CAST, "000080bf"),
        (Decimal("0.15"), ParamType.REAL32, BYTEWISE, "9a99193e"),
        (Decimal("0.15"), ParamType.REAL32, CAST, "9a99193e"),
    ],
)
def test_the_bytes_of_the_check_values(value, kind, encoding, raw):
    """Section 14: rows 'int32 100', 'int32 -1' and the frame of QUAY_TRIM = 0.15."""
    assert encoded(Decimal(value), kind, encoding).hex() == raw
    assert decoded(bytes.fromhex(raw), kind, encoding) == Decimal(value)


def test_a_whole_number_a_float_loses_is_not_sent():
    """Section 14: a C cast makes 16777217 to 16777216."""
    assert struct.unpack("<f", struct.pack("<f", 16777217.0))[0] == 16777216.0
    with pytest.raises(ValueError, match="does not carry 16777217 exactly"):
        encoded(Decimal(16777217), ParamType.INT32, CAST)
    assert (
        decoded(encoded(Decimal(16777217), ParamType.INT32, BYTEWISE), ParamType.INT32, BYTEWISE) == 16777217
    )


@pytest.mark.parametrize("kind", [ParamType.UINT64, ParamType.INT64, ParamType.REAL64])
def test_what_has_64_bits_does_not_fit_bytewise(kind):
    with pytest.raises(ValueError, match="does not fit"):
        encoded(Decimal(1), kind, BYTEWISE)
    with pytest.raises(ValueError, match="does not fit"):
        decoded(bytes(4), kind, BYTEWISE)


def test_the_encoding_is_never_guessed():
    """Capability bits 16 and 131072 (section 14)."""
    assert encoding_of(16) is BYTEWISE
    assert encoding_of(131_072 | 32) is CAST
    for bits in (0, 32, 16 | 131_072):
        with pytest.raises(ValueError, match="encoding"):
            encoding_of(bits)


@given(st.sampled_from(WHOLE), st.integers(-(1 << 31), (1 << 32) - 1), st.sampled_from([BYTEWISE, CAST]))
def test_whole_numbers_come_back_or_are_refused(kind, value, encoding):
    try:
        raw = encoded(Decimal(value), kind, encoding)
    except ValueError:
        low, high = kind.bounds
        assert not low <= value <= high or (encoding is CAST and abs(value) > 1 << 24)
        return
    assert decoded(raw, kind, encoding) == value
    dtype = {1: "<u1", 2: "<i1", 3: "<u2", 4: "<i2", 5: "<u4", 6: "<i4"}[kind]
    theirs = (
        np.float32(value).tobytes() if encoding is CAST else np.array(value, dtype).tobytes().ljust(4, b"\0")
    )
    assert raw == theirs


@given(st.floats(width=32, allow_nan=False, allow_infinity=False))
def test_a_float_is_shown_as_numpy_shows_it(value):
    text = shortest(value)
    assert np.float32(float(text)) == np.float32(value)
    assert float(text) == float(np.format_float_scientific(np.float32(value), unique=True))


@given(st.binary(min_size=4, max_size=4), st.sampled_from(list(ParamType)), st.sampled_from([BYTEWISE, CAST]))
def test_no_bytes_break_it(raw, kind, encoding):
    try:
        value = decoded(raw, kind, encoding)
    except ValueError:
        return
    assert value.is_finite()
