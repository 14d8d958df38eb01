"""Units: exact factors, held against pint and against the definitions of the SI."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal as D
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.unit_table import BASE, PREFIXED, PREFIXES
from asflown.core.units import convert_unit, dimension, factor_between, is_exact, scale_of

#: The same unit in pint's words.
IN_PINT = {
    "gn": "standard_gravity",
    "kn": "knot",
    "deg/s": "degree/second",
    "rpm": "revolution/minute",
    "rev/s": "revolution/second",
    "1": "dimensionless",
    "in": "inch",
    "%": "percent",
}
#: pint has no such unit, or means something else by the word.
NOT_IN_PINT = {"dB", "dBm"}


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


@pytest.mark.parametrize("word", sorted(BASE.keys() - NOT_IN_PINT))
def test_the_table_is_what_pint_says(word, registry):
    # reference: pint 0.25, whose registry states the CODATA and SI values of its own
    scale = BASE[word]
    base = registry.Quantity(1.0, IN_PINT.get(word, word)).to_base_units()
    if scale.offset:
        assert base.magnitude == pytest.approx(float(scale.factor + scale.offset), rel=1e-12)
        return
    assert base.magnitude == pytest.approx(float(scale.factor), rel=1e-14)


@pytest.mark.parametrize("prefix", sorted(PREFIXES))
@pytest.mark.parametrize("word", sorted(PREFIXED))
def test_prefixes_are_what_pint_says(prefix, word, registry):
    name = IN_PINT.get(word, word)
    quantity = registry.Quantity(1.0, f"{prefix}{name}".replace("hdeg", "hectodegree")).to_base_units()
    assert quantity.magnitude == pytest.approx(float(scale_of(prefix + word).factor), rel=1e-14)


@pytest.mark.parametrize(
    ("old", "new", "factor"),
    [
        ("s", "ms", "1000"),
        ("us", "s", "0.000001"),
        ("µs", "ms", "0.001"),
        ("cdeg", "deg", "0.01"),
        ("%", "1", "0.01"),
        ("mm", "m", "0.001"),
        ("in", "mm", "25.4"),  # exact by the international yard of 1959 (from memory)
        ("mi", "km", "1.609344"),  # the same
        ("0.1 V", "V", "0.1"),
        ("V/10", "mV", "100"),
        ("tenths of a volt", "V", "0.1"),
        ("hundredths of a degree", "deg", "0.01"),
        ("thousandths of an amp", "A", "0.001"),
        ("1/1000", "%", "0.1"),
        ("1/10 V", "V", "0.1"),
        ("mAh", "Ah", "0.001"),
        ("dps", "deg/s", "1"),
        ("km/h", "mm/s", None),  # 2500/9: no finite decimal
        ("counts", "count", "1"),
    ],
)
def test_factors_that_are_exact(old, new, factor):
    if factor is None:
        assert not is_exact(old, new)
        assert factor_between(old, new) == pytest.approx(D(2500) / D(9))
    else:
        assert is_exact(old, new)
        assert factor_between(old, new) == D(factor)


def test_degrees_and_radians_through_thirty_digits_of_pi():
    # pi/180 = 0.0174532925199432957692369076848861271... (OEIS A019685)
    assert str(factor_between("deg", "rad")).startswith("0.01745329251994329576923690768488")
    # 180/pi = 57.2957795130823208767981548141051703... (OEIS A072097)
    assert str(factor_between("rad", "deg")).startswith("57.29577951308232087679815481410")


def test_temperatures_have_an_offset_and_no_factor():
    assert convert_unit(D(25), "degC", "K") == D("298.15")
    assert convert_unit(D(0), "K", "°C") == D("-273.15")
    assert convert_unit(D(50), "degF", "degC") == 10
    assert factor_between("degC", "K") is None
    assert factor_between("°C", "degC") == 1


@pytest.mark.parametrize(
    "text", ["", "  ", "wobble", "x" * 41, "km^9^9^9", "m**99999999", "0 V", "V/0", "[]", "("]
)
def test_what_is_no_unit_is_not_known(text):
    assert scale_of(text) is None
    assert dimension(text) is None
    assert convert_unit(D(1), text, "s") is None


def test_a_frequency_and_an_angular_rate_do_not_convert():
    # in pint both are 1/s; a number in Hz taken for rad/s is 6.28 times wrong
    assert factor_between("Hz", "rad/s") is None
    assert factor_between("Hz", "rpm") is None
    assert dimension("rev/s") == dimension("deg/s") == "angular rate"


@given(st.text(max_size=45))
def test_any_text_is_a_unit_or_is_not_known(text):
    scale = scale_of(text)
    assert scale is None or scale.factor != 0


@given(
    st.sampled_from(["s", "ms", "us", "min", "h"]),
    st.sampled_from(["s", "ms", "us", "min", "h"]),
    st.fractions(min_value=-(10**6), max_value=10**6, max_denominator=1000),
)
def test_there_and_back_is_the_same_number(old, new, value):
    number = D(value.numerator) / D(value.denominator)
    back = convert_unit(convert_unit(number, old, new), new, old)
    assert abs(Fraction(back) - Fraction(number)) <= abs(Fraction(number)) * Fraction(1, 10**32)


def test_common_units_do_not_load_pint():
    code = (
        "import sys; from asflown.core.units import factor_between as f; f('deg/s', 'rad/s'); f('0.1 V', 'mV');"
        "assert 'pint' not in sys.modules; f('psi', 'bar'); assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
