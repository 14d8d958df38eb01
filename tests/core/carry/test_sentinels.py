"""Values that may be words are never scaled, whatever the unit did."""

from __future__ import annotations

from decimal import Decimal

import pytest

from asflown.core.carry.meaning import compare_meaning
from asflown.core.carry.sentinel import suspected_word
from asflown.core.carry.translate import translate
from asflown.core.catalog import Choice, ParameterDef, ValueKind


@pytest.mark.parametrize(
    ("value", "definition", "is_one"),
    [
        ("-1", ParameterDef("a", unit="s"), True),
        ("-1", ParameterDef("a", unit="deg"), False),
        ("-1", ParameterDef("a", minimum=Decimal(-1)), True),
        ("-1", ParameterDef("a", minimum=Decimal(-10), unit="deg"), False),
        ("0", ParameterDef("a", description="How long to wait; 0 turns it off."), True),
        ("0", ParameterDef("a", description="How long to wait (0 = disabled)"), True),
        ("0", ParameterDef("a", description="Disabled when set to 0."), True),
        ("0", ParameterDef("a", description="How long to wait, 0.5 disables half of it"), False),
        ("10", ParameterDef("a", description="How long to wait; 0 turns it off."), False),
        ("0", ParameterDef("a", description="How long to wait, between 0 and 10."), False),
        ("255", ParameterDef("a", description="255: automatic"), True),
        ("on", ParameterDef("a", description="on: automatic"), False),
    ],
)  # fmt: skip
def test_what_is_suspected(value, definition, is_one):
    assert (suspected_word(value, definition) is not None) is is_one


def real(**facts) -> ParameterDef:
    return ParameterDef(
        "wait", kind=ValueKind.INTEGER, description=facts.pop("text", "How long to wait"), **facts
    )


@pytest.mark.parametrize(
    ("value", "old", "expected"),
    [
        ("7", real(unit="s"), "7000"),
        ("-1", real(unit="s"), None),
        ("0", real(unit="s", text="How long to wait; 0 turns it off"), None),
        ("3", real(unit="s", slots=True), None),
        ("0", real(unit="s", plain_values=(Choice("0", "off"),)), None),
    ],
)
def test_no_factor_is_applied_to_them(value, old, expected):
    new = real(unit="ms")
    assert translate(value, compare_meaning(old, new), old, new).value == expected
