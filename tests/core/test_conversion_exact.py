"""Conversions: exact, never clipped, and what is lost is said."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from asflown.core.catalog import Choice, ConversionSpec, ParameterDef, ValueKind
from asflown.core.conversion import convert, invert
from asflown.core.values import number, plain_text, same_value


def real(name="x", **more):
    return ParameterDef(name, kind=ValueKind.REAL, **more)


def done(spec, text, new=None, old=None, **more):
    return convert(spec, {"x": text}, new, old_def=old, new_name=new.name if new else "x", **more)


TO_RADIANS = ConversionSpec(unit_from="deg", unit_to="rad")


def test_forty_five_degrees_come_back_or_what_is_lost_is_said():
    # pi/4 = 0.785398163397448... ; 0.7854 rad = 45.000105... deg (by hand)
    fine = done(TO_RADIANS, "45.000", real(decimals=7), real(decimals=3))
    assert (fine.value, fine.exact) == ("0.7853982", True)
    coarse = done(TO_RADIANS, "45.0000", real(decimals=4), real(decimals=4))
    assert (coarse.value, coarse.exact, coarse.problem) == ("0.7854", False, None)
    assert "stored as 0.7854" in coarse.says
    assert "45.0001, not 45.0000" in coarse.says


@pytest.mark.parametrize(
    ("spec", "text", "new", "value"),
    [
        (ConversionSpec(factor=D("0.001")), "1500", real(decimals=3), "1.500"),
        (ConversionSpec(factor=D(10)), "0.1", real(decimals=1), "1.0"),
        (ConversionSpec(factor=D(2), offset=D(-5)), "10", real(), "15"),
        (ConversionSpec(unit_from="s", unit_to="ms"), "1.50", real(decimals=0), "1500"),
        (ConversionSpec(unit_from="degC", unit_to="K"), "25", real(decimals=2), "298.15"),
        (ConversionSpec(choices={"0": "2", "1": "0"}), "1", None, "0"),
        (ConversionSpec(choices={"0": "2", "1": "0"}), "1.0", None, "0"),
        (ConversionSpec(expressions={"x": "old * 10 + 1"}), "4", real(), "41"),
        (ConversionSpec(expressions={"x": "x * 10 + 1"}), "4", None, "41"),
        (ConversionSpec(), "word", None, "word"),
    ],
)
def test_ways_to_convert(spec, text, new, value):
    made = done(spec, text, new)
    assert (made.value, made.exact, made.problem) == (value, True, None)


def test_out_of_range_is_a_problem_with_the_nearest_allowed_and_no_value():
    made = done(ConversionSpec(factor=D(100)), "0.9", real(maximum=D(60), unit="deg"))
    assert made.value is None
    assert made.problem is not None
    assert made.problem.nearest == "60"
    assert "90 is above the most allowed, 60 deg" in made.problem.says


def test_a_value_rounded_out_of_the_range_is_a_problem_too():
    made = done(ConversionSpec(factor=D(1)), "0.96", real(maximum=D("0.96"), decimals=1))
    assert made.value is None
    assert made.problem is not None
    assert made.problem.nearest == "0.9"


def test_off_is_matched_by_its_meaning_and_never_scaled():
    old = real(plain_values=(Choice("0", "off"), Choice("-1", "automatic")))
    new = real(plain_values=(Choice("-1", "Off"),), minimum=D(10), maximum=D(9000))
    spec = ConversionSpec(unit_from="s", unit_to="ms")
    assert done(spec, "0", new, old).value == "-1"
    assert done(spec, "0.00", new, old).value == "-1"  # the same number, printed with decimals
    assert done(spec, "0", None, old).value == "0"
    refused = done(spec, "-1", new, old)
    assert refused.value is None
    assert "automatic" in str(refused.problem)


def test_a_number_never_becomes_a_word_by_rounding_or_scaling():
    # 0.2 s in whole seconds would be 0, and 0 means off there: receiver loss would never be acted on
    new = ParameterDef("x", kind=ValueKind.INTEGER, plain_values=(Choice("0", "off"),))
    for spec in (
        ConversionSpec(unit_from="ms", unit_to="s"),
        ConversionSpec(expressions={"x": "old / 1000"}),
    ):
        made = done(spec, "200", new, real())
        assert made.value is None
        assert "means 'off'" in str(made.problem)


def test_an_expression_may_say_off_on_purpose():
    new = real(plain_values=(Choice("-1", "off"),))
    made = done(ConversionSpec(expressions={"x": "if(old == 0, -1, old * 10)"}), "0", new)
    assert made.value == "-1"
    assert "which means 'off'" in made.says


@pytest.mark.parametrize("kind", [ValueKind.BITS, ValueKind.CHOICE, ValueKind.FLAG])
def test_bits_and_choices_are_never_scaled(kind):
    made = done(ConversionSpec(factor=D(10)), "5", real(), ParameterDef("x", kind=kind))
    assert made.value is None
    assert "never scaled" in str(made.problem)


def test_slots_are_never_scaled():
    assert done(ConversionSpec(factor=D(10)), "3", real(), real(slots=True)).value is None


def test_a_choice_table_without_the_value_is_a_problem():
    made = done(ConversionSpec(choices={"0": "2", "1": "0"}), "7")
    assert made.value is None
    assert "no counterpart for 7" in str(made.problem)


def test_a_choice_the_new_release_has_not_is_a_problem():
    new = ParameterDef("x", kind=ValueKind.CHOICE, choices=(Choice("0", "land"), Choice("1", "hover")))
    made = done(ConversionSpec(choices={"4": "9"}), "4", new)
    assert made.value is None
    assert "none of the choices 0 (land), 1 (hover)" in str(made.problem)
    assert done(ConversionSpec(), "land", new).problem is None


def test_merging_and_splitting():
    spec = ConversionSpec(expressions={"whole": "left + right"})
    made = convert(spec, {"left": "1.5", "right": "2"}, real("whole"), old_def=None, new_name="whole")
    assert made.value == "3.5"
    split = ConversionSpec(expressions={"a": "old * 2", "b": "old / 2"})
    values = [convert(split, {"x": "3"}, real(n), old_def=None, new_name=n).value for n in "ab"]
    assert values == ["6", "1.5"]


def test_a_merge_refuses_words():
    spec = ConversionSpec(expressions={"whole": "left + right"})
    left = real("left", plain_values=(Choice("0", "off"),))
    made = convert(
        spec, {"left": "0", "right": "2"}, real("whole"), old_def=None, new_name="whole", old_defs=(left,)
    )
    assert made.value is None
    assert "left is 0, which means 'off'" in str(made.problem)
    made = convert(spec, {"left": "auto", "right": "2"}, None, old_def=None, new_name="whole")
    assert "left is 'auto', no number" in str(made.problem)


@pytest.mark.parametrize(
    "spec",
    [ConversionSpec(factor=D(2)), TO_RADIANS, ConversionSpec(expressions={"x": "old"})],
)
def test_words_cannot_be_scaled(spec):
    assert done(spec, "fast").value is None


def test_units_that_do_not_convert_and_expressions_without_a_value():
    assert "does not convert" in str(done(ConversionSpec(unit_from="V", unit_to="s"), "1").problem)
    assert done(ConversionSpec(expressions={"x": "1 / old"}), "0").value is None


def test_what_cannot_be_inverted():
    assert invert(ConversionSpec(expressions={"x": "old"})) is None
    assert invert(ConversionSpec(choices={"0": "1", "1": "1"})) is None
    assert invert(ConversionSpec(factor=D(0))) is None
    assert invert(ConversionSpec()) == ConversionSpec()


NUMBERS = st.decimals(-10_000, 10_000, allow_nan=False, places=3)
SPECS = st.one_of(
    st.builds(
        ConversionSpec,
        factor=st.sampled_from([D("0.001"), D("0.01"), D(10), D(3), D("57.29577951308232"), D("-2.5")]),
        offset=st.sampled_from([D(0), D(5), D("-0.25")]),
    ),
    st.sampled_from(
        [
            TO_RADIANS,
            ConversionSpec(unit_from="s", unit_to="ms"),
            ConversionSpec(unit_from="V/10", unit_to="mV"),
        ]
    ),
)


@given(SPECS, NUMBERS, st.integers(0, 7))
def test_there_and_back_restores_the_value_or_says_what_is_lost(spec, value, decimals):
    old, new = real(decimals=3), real(decimals=decimals)
    text = plain_text(value)
    there = done(spec, text, new, old)
    assert there.value is not None
    back = done(invert(spec), there.value, old, new)
    assert back.value is not None
    if there.exact:
        assert same_value(back.value, text, old)
    else:
        assert not same_value(back.value, text, old)
        assert f"not {text}" in there.says
        # and the loss is no more than half a step of the new device carried back
        factor = abs(number(done(spec, "1", None).value) - number(done(spec, "0", None).value))
        allowed = D(1).scaleb(-decimals) / 2 / factor + D("0.001")
        assert abs(number(back.value) - value) <= allowed


@given(SPECS, NUMBERS)
def test_inverting_twice_is_the_same_conversion(spec, value):
    twice = invert(invert(spec))
    a, b = number(done(spec, str(value)).value), number(done(twice, str(value)).value)
    assert abs(a - b) <= D("1e-20") * max(abs(a), D(1))


@given(
    st.dictionaries(st.sampled_from("0123456"), st.sampled_from("0123456"), min_size=1),
    st.sampled_from("0123456"),
)
def test_choice_tables_go_back_where_they_can(table, text):
    spec = ConversionSpec(choices=table)
    back = invert(spec)
    assume(back is not None)
    there = done(spec, text)
    if text in table:
        assert done(back, there.value).value == text
    else:
        assert there.value is None


@given(
    SPECS | st.just(ConversionSpec(expressions={"x": "old * old / 7"})),
    st.text(max_size=12) | st.sampled_from(["1e300", "-1e-300", "9" * 60]),
)
def test_any_text_is_answered(spec, text):
    for new in (None, real(), real(type="Float"), ParameterDef("x", kind=ValueKind.INTEGER, type="Uint8")):
        made = done(spec, text, new, real())
        assert (made.value is None) == (made.problem is not None)
