"""The small arithmetic of change notes: what it reads, what it gives, what it refuses."""

from __future__ import annotations

import re
from decimal import Decimal as D
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.expression import DEEPEST, LONGEST, parse
from asflown.errors import InputError


def value(text, **values):
    return parse(text).evaluate({name: D(number) for name, number in values.items()})


@pytest.mark.parametrize(
    ("text", "result"),
    [
        ("1 + 2 * 3", "7"),
        ("(1 + 2) * 3", "9"),
        ("8 / 4 / 2", "1"),
        ("8 - 4 - 2", "2"),
        ("-2 * -3", "6"),
        ("--5", "5"),
        ("0.1 + 0.2", "0.3"),  # exact, as decimals are
        ("1.5e3", "1500"),
        (".5 * 4", "2"),
        ("min(3, 2) + max(3, 2)", "5"),
        ("abs(-4)", "4"),
        ("round(2.5)", "2"),  # ties to even
        ("round(3.5)", "4"),
        ("if(1 < 2, 10, 20)", "10"),
        ("if(2 <= 1, 10, if(3 != 3, 1, 2))", "2"),
        ("if(0, 1, 2)", "2"),
        ("(2 > 1) + (2 >= 2) + (1 == 2)", "2"),
    ],
)
def test_arithmetic(text, result):
    assert value(text) == D(result)


def test_names():
    made = parse('old.gain * 2 + "odd name[3]" - pace-2')
    assert made.names == {"old.gain", "odd name[3]", "pace-2"}
    assert made.evaluate({"old.gain": D(3), "odd name[3]": D(1), "pace-2": D(2)}) == 5


def test_only_the_branch_taken_matters_for_division():
    # a note may guard a division by zero
    assert value("if(old == 0, 0, 100 / old)", old="4") == 25
    assert value("if(old == 0, 0, 100 / old)", old="0") == 0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the end"),
        ("1 +", "the end"),
        ("(1", "the end"),
        ("1 2", "'2' at position 3"),
        ("1 + )", "')' at position 5"),
        ("2 ** 3", "'*' at position 4"),
        ("a = 3", "'=' at position 3"),
        ("x; y", "';' at position 2"),
        ("print(1)", "'print' at position 1"),
        ("__import__(1)", "'__import__' at position 1"),
        ("a[0]", "'[' at position 2"),
        ("min(1)", "min() takes 2 arguments, got 1"),
        ("if(1, 2)", "if() takes 3 arguments, got 2"),
        ("1 < 2 < 3", "'<' at position 7"),
        ("1" * (LONGEST + 1), "at most"),
        ("(" * (DEEPEST + 2) + "1", "nested"),
        ("-" * (DEEPEST + 2) + "1", "nested"),
        ("²", "'²' at position 1"),
    ],
)
def test_what_is_refused_says_where(text, says):
    with pytest.raises(InputError) as caught:
        parse(text)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("text", "values"),
    [("1 / 0", {}), ("0 / old", {"old": 0}), ("old + 1", {}), ("9e99 * 9e99 * " * 20 + "1 / 0", {})],
)
def test_what_has_no_value_says_so(text, values):
    with pytest.raises(InputError):
        value(text, **values)


LEAVES = st.one_of(st.integers(0, 99).map(str), st.sampled_from(["a", "b"]))
TREES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from("+-*"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
        st.tuples(inner, st.sampled_from("2458")).map(lambda t: f"({t[0]} / {t[1]})"),
        inner.map(lambda t: f"-{t}"),
        inner.map(lambda t: f"abs({t})"),
        st.tuples(inner, inner).map(lambda t: f"min({t[0]}, {t[1]})"),
        st.tuples(inner, inner).map(lambda t: f"max({t[0]}, {t[1]})"),
    ),
    max_leaves=12,
)


@given(TREES, st.integers(-50, 50), st.integers(-50, 50))
def test_the_result_is_what_python_gives_in_fractions(text, a, b):
    # a second implementation: Python's own parser over exact fractions
    code = re.sub(r"\d+", lambda match: f"Fraction({match[0]})", text)
    names = {"Fraction": Fraction, "abs": abs, "min": min, "max": max, "a": Fraction(a), "b": Fraction(b)}
    expected = eval(code, {"__builtins__": {}}, names)
    assert abs(Fraction(value(text, a=a, b=b)) - expected) <= max(abs(expected), 1) * Fraction(1, 10**35)


@given(st.text(alphabet="0123456789.+-*/()<>=!, abeifmnx\"'", max_size=60))
def test_any_text_is_read_or_refused(text):
    try:
        made = parse(text)
    except InputError:
        return
    try:
        made.evaluate(dict.fromkeys(made.names, D(2)))
    except InputError:
        return
