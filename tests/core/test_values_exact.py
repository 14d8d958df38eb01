"""Values as a device stores them: exact decimals, single precision, ranges."""

from __future__ import annotations

from decimal import Decimal as D

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from asflown.core.catalog import Choice, ParameterDef, ValueKind
from asflown.core.values import (
    format_like,
    in_range,
    nearest_single,
    number,
    plain_text,
    quantum,
    rounded,
    same_value,
    stored,
)


def real(**more):
    return ParameterDef("hush.wait", kind=ValueKind.REAL, **more)


def whole(**more):
    return ParameterDef("horn.count", kind=ValueKind.INTEGER, **more)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12", "12"), ("-0.50", "-0.50"), ("+3", "3"), (".5", "0.5"), ("5.", "5"), (" 7 ", "7"), ("1e3", "1000"),
        ("1.5E-3", "0.0015"), ("0x1F", "31"), ("-0Xff", "-255"), ("007", "7"),
    ],
)  # fmt: skip
def test_what_is_a_number(text, value):
    assert number(text) == D(value)


@pytest.mark.parametrize(
    "text",
    ["", "1,5", "1 000", "1_000", "nan", "NaN", "inf", "-Infinity", "1e", "0x", "٣", "１", "on", "1.2.3", "1e999", "--1", "1/2"],
)  # fmt: skip
def test_what_is_no_number(text):
    assert number(text) is None


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12))
def test_plain_notation_reads_back(value):
    text = plain_text(value)
    assert "e" not in text.casefold()
    assert number(text) == value


# numpy's float32 rounds the double nearest to a decimal; a double itself is rounded once by both.
@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-3e38, max_value=3e38))
def test_single_precision_is_what_numpy_stores(value):
    assert nearest_single(D(value)) == D(float(np.float32(value)))


def test_single_precision_is_rounded_once_not_twice():
    # just above half-way between 1 and the next float: by way of a double it would fall to 1
    just_above = D(1) + D(2) ** -24 + D(2) ** -60
    assert float(np.float32(float(just_above))) == 1.0
    assert nearest_single(just_above) == D(1) + D(2) ** -23
    # half-way exactly goes to the even one (IEEE 754 ties to even)
    assert nearest_single(D(1) + D(2) ** -24) == 1
    assert nearest_single(D(1) + 3 * D(2) ** -24) == D(1) + D(2) ** -22


@pytest.mark.parametrize(
    "text", ["1.4012984643248171e-45", "1e-46", "1.1754944e-38", "3.4028235e38", "0.1", "16777217"]
)
def test_single_precision_at_its_ends(text):
    # least denormal, below it, least normal, largest, and the integer 2^24 + 1 that no float holds (IEEE 754)
    assert nearest_single(D(text)) == D(float(np.float32(text)))


def test_a_float_is_shown_with_the_digits_that_name_it():
    # numpy prints the shortest decimal that names the float (Dragon4): another way to the same digits
    parameter = real(type="Float")
    for text in ("0.1", "3.14159265358979", "16777217", "0.333333333333", "12345.678901"):
        shown = format_like(D(text), parameter)
        assert np.float32(shown) == np.float32(text)
        assert D(shown) == D(np.format_float_positional(np.float32(text), trim="-"))


@pytest.mark.parametrize(
    ("more", "text", "held"),
    [
        ({"decimals": 2}, "1.5", "1.5"),  # already what is stored: left as printed
        ({"decimals": 2}, "1.506", "1.51"),
        ({"decimals": 1}, "0.25", "0.2"),  # ties to even
        ({"decimals": 3}, "2", "2"),
        ({"decimals": 3}, "2.00049", "2.000"),
        ({"increment": D("0.25")}, "0.6", "0.5"),
        ({"increment": D("0.05"), "decimals": 2}, "0.62", "0.60"),
        ({"type": "Float"}, "16777217", "16777216"),
    ],
)
def test_how_a_number_is_stored(more, text, held):
    assert stored(text, real(**more)) == held


def test_whole_numbers_and_words():
    assert stored("3.6", whole()) == "4"
    assert stored("fast", whole()) is None
    off = real(plain_values=(Choice("-1", "off"),), minimum=D(0), decimals=2)
    assert stored("-1", off) == "-1"
    assert in_range("-1", off) is None
    text = ParameterDef("call.sign", kind=ValueKind.TEXT)
    assert stored("01.50", text) == "01.50"


def test_values_are_one_at_the_precision_the_device_stores():
    assert same_value("1.50", "1.5")
    assert same_value("1.504", "1.5", real(decimals=2))
    assert not same_value("1.504", "1.5", real(decimals=3))
    assert same_value("0x10", "16", whole())
    assert same_value("0.1", "0.100000001", real(type="Float"))
    assert not same_value("0.1", "0.100000001", real())


def test_words_compare_exactly_unless_a_choice_says_otherwise():
    assert not same_value("ON", "on")
    assert not same_value("ON", "on", ParameterDef("x", kind=ValueKind.TEXT))
    assert not same_value("1.50", "1.5", ParameterDef("x", kind=ValueKind.TEXT))
    lamp = ParameterDef("lamp", kind=ValueKind.FLAG, choices=(Choice("0", "off"), Choice("1", "on")))
    assert same_value("ON", "1", lamp)
    assert not same_value("ON", "0", lamp)
    assert not same_value("odd", "queer", lamp)


@pytest.mark.parametrize(
    ("definition", "text", "nearest"),
    [
        (real(minimum=D("0.5"), maximum=D(9)), "0.4", "0.5"),
        (real(minimum=D("0.5"), maximum=D(9)), "10", "9"),
        (real(minimum=D("0.05"), decimals=1), "0", "0.1"),  # 0.05 is stored as 0.0, which is not allowed
        (real(maximum=D("0.96"), decimals=1), "3", "0.9"),  # 0.96 would be stored as 1.0
        (whole(type="Uint8"), "256", "255"),  # 2^8 - 1
        (whole(type="Int16"), "-40000", "-32768"),  # -2^15
        (whole(type="Uint8", maximum=D(100)), "256", "100"),
        (real(minimum=D(0), maximum=D(1), decimals=3), "1.5", "1.000"),
    ],
)
def test_the_nearest_allowed_value_is_told(definition, text, nearest):
    fault = in_range(text, definition)
    assert fault is not None
    assert fault.nearest == nearest
    assert text in fault.says
    assert in_range(nearest, definition) is None


def test_what_is_in_range():
    assert in_range("0.5", real(minimum=D("0.5"), maximum=D(9))) is None
    assert in_range("9.0", real(minimum=D("0.5"), maximum=D(9))) is None
    assert in_range("anything", ParameterDef("x", kind=ValueKind.TEXT, maximum=D(1))) is None
    assert in_range("word", ParameterDef("x")) is None
    fault = in_range("word", whole())
    assert fault is not None
    assert fault.nearest is None


DEFINITIONS = st.builds(
    ParameterDef,
    name=st.just("x"),
    kind=st.sampled_from([ValueKind.REAL, ValueKind.INTEGER, ValueKind.UNKNOWN]),
    type=st.sampled_from([None, "Float", "Int16", "Uint8"]),
    decimals=st.one_of(st.none(), st.integers(0, 9)),
    increment=st.one_of(st.none(), st.sampled_from([D("0.1"), D("0.25"), D(5), D("0.0005")])),
    minimum=st.one_of(st.none(), st.decimals(-1000, 0, places=3)),
    maximum=st.one_of(st.none(), st.decimals(10, 1000, places=3)),
)
NUMBERS = st.decimals(-(10**6), 10**6, allow_nan=False, places=8)


@given(NUMBERS, DEFINITIONS)
def test_storing_twice_is_storing_once(value, definition):
    once = rounded(value, definition)
    assert rounded(once, definition) == once
    text = format_like(value, definition)
    assert number(text) == once
    assert stored(text, definition) == text


@given(NUMBERS, DEFINITIONS)
def test_what_is_stored_is_the_same_value(value, definition):
    held = stored(plain_text(value), definition)
    assert held is not None
    assert same_value(plain_text(value), held, definition)
    step = quantum(definition)
    if step is not None and definition.type != "Float":
        assert abs(number(held) - value) <= step / 2


@given(st.text(max_size=20), DEFINITIONS)
def test_any_text_is_answered(text, definition):
    stored(text, definition)
    in_range(text, definition)
    same_value(text, "1", definition)


@given(st.integers(0, 2**32 - 2), st.sampled_from([0, 1, -1]))
def test_near_the_middle_of_two_single_floats_both_ways_agree(bits, off):
    """The way by 64-bit floats gives what exact fractions give, on a middle and just beside it."""
    import struct

    from asflown.core.values import _by_fraction

    low, high = (struct.unpack("<f", struct.pack("<I", b))[0] for b in (bits, bits + 1))
    assume(abs(low) < float("inf") and abs(high) < float("inf"))
    value = (D(low) + D(high)) / 2 + D(off).scaleb(-60)
    assert nearest_single(value) == _by_fraction(value)
