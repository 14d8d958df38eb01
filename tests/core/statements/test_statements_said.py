"""What settings say, against conversions by pint (a general library) and meanings worked by hand."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from asflown.core.catalog import Catalog, CatalogSource, Choice, Consequence, ParameterDef, ValueKind
from asflown.core.record import Key
from asflown.core.statements.said import Amount, NotStated, Silence, Words
from asflown.core.statements.statements import of_one, statements
from asflown.core.statements.topics import TOPICS, topics_for
from asflown.core.statements.words import number_text, sentence, told

REAL, CHOICE, BITS = ValueKind.REAL, ValueKind.CHOICE, ValueKind.BITS
_REGISTRY = pint.UnitRegistry(non_int_type=Fraction)


def say(*parameters, **texts):
    """What settings say, by role; ``__`` in a name stands for a point."""
    catalog = Catalog(parameters, CatalogSource.STATED)
    settings = {Key(name.replace("__", ".")): text for name, text in texts.items()}
    return {one.topic.role: one for one in statements(settings, catalog, "sand-1.0")}


@pytest.mark.parametrize(
    ("role", "unit", "text", "outside", "words"),
    [
        ("radio_loss.delay", "ms", "1500", (1500, "millisecond"), "1.5 s"),
        ("radio_loss.delay", "0.1s", "15", (Fraction(15, 10), "second"), "1.5 s"),
        ("radio_loss.climb", "ft", "100", (100, "foot"), "30.48 m"),
        ("radio_loss.throttle", "permille", "365", (Fraction(365, 1000), ""), "36.5 %"),
        ("arming.highest_throttle_pulse", "us", "1040", (1040, "microsecond"), "1040 us"),
        ("disarming.idle_time", "min", "2", (2, "minute"), "120 s"),
        ("pack.cell_warning_voltage", "0.01V", "350", (350, "centivolt"), "3.5 V"),
        ("pack.capacity", "mAh", "3300", (3300, "milliampere_hour"), "3300 mAh"),
        ("pack.most_current", "0.1 A", "255", (Fraction(255, 10), "ampere"), "25.5 A"),
    ],
)
def test_amounts_are_physical(role, unit, text, outside, words):
    made = say(ParameterDef("one", kind=REAL, unit=unit, role=role), one=text)[role]
    assert isinstance(made.said, Amount)
    assert made.said.value == _REGISTRY.Quantity(*outside).to_base_units().magnitude
    assert told(made) == words


def test_an_angle_is_told_as_it_is_stored():
    made = say(ParameterDef("lean", kind=REAL, unit="0.1deg", role="arming.most_lean"), lean="255")
    outside = _REGISTRY.Quantity(25.5, "degree").to_base_units().magnitude
    assert float(made["arming.most_lean"].said.value) == pytest.approx(float(outside), rel=1e-15)
    assert told(made["arming.most_lean"]) == "25.5 deg"


def test_a_factor_says_it_where_no_unit_does():
    wait = ParameterDef("wait", kind=REAL, factor=Decimal("0.02"), role="radio_loss.delay")
    assert told(say(wait, wait="40")["radio_loss.delay"]) == "0.8 s"  # 40 words of 20 ms


def test_words_are_the_catalogs():
    act = ParameterDef(
        "act", kind=CHOICE, role="radio_loss.action", choices=(Choice("0", "land"), Choice("1", "come home"))
    )
    stop = ParameterDef(
        "stop", kind=REAL, unit="s", role="radio_loss.motor_stop_delay", plain_values=(Choice("0", "never"),)
    )
    made = say(act, stop, act="1", stop="0.0")
    assert told(made["radio_loss.action"]) == "come home"
    assert made["radio_loss.motor_stop_delay"].said == Words(("never",))
    assert sentence(made["radio_loss.action"]) == "radio lost, what it does: come home"


def test_a_set_of_bits_is_every_word_of_it():
    bits = tuple(Choice(str(place), word) for place, word in enumerate(("pack", "radio", "level", "compass")))
    check = ParameterDef("check", kind=BITS, role="arming.checks", bits=bits)
    # 27 = 1 + 2 + 8 + 16
    assert told(say(check, check="27")["arming.checks"]) == "bit 4, compass, pack, radio"
    assert told(say(check, check="0")["arming.checks"]) == "nothing"
    assert "no set of bits" in say(check, check="-1")["arming.checks"].said.reason


WHOLE = ParameterDef(
    "pack.low", kind=REAL, unit="0.1V", role="pack.warning_voltage", consequence=Consequence.COMFORT
)
CELL = ParameterDef("cell.low", kind=REAL, unit="V", role="pack.cell_warning_voltage")
CELLS = ParameterDef("cells", kind=REAL, role="pack.cells", consequence=Consequence.SAFETY)


def test_a_voltage_of_the_pack_is_one_of_each_cell_where_the_cells_are_known():
    made = say(WHOLE, CELLS, pack__low="140", cells="4")
    each = made["pack.cell_warning_voltage"]
    assert each.said.value == Fraction(7, 2)  # 14 V over 4
    assert told(each) == "3.5 V (14 V over 4 cells)"
    assert (each.settings, each.consequence) == (("pack.low", "cells"), Consequence.SAFETY)
    shown = [one.topic.role for one in of_one(made.values()) if one.is_stated]
    assert shown == ["pack.cell_warning_voltage", "pack.cells"]
    assert told(say(CELL, CELLS, cell__low="3.6", cells="3")["pack.warning_voltage"]) == (
        "10.8 V (3.6 V times 3 cells)"
    )


def test_without_the_cells_each_form_stays_itself():
    made = say(WHOLE, pack__low="140")
    assert told(made["pack.warning_voltage"]) == "14 V"
    said = made["pack.cell_warning_voltage"].said
    assert said == NotStated(
        "no setting of sand-1.0 says it (role pack.cell_warning_voltage)", Silence.NO_SETTING
    )
    none = say(WHOLE, CELLS, pack__low="140", cells="0")
    assert "no count" in none["pack.cell_warning_voltage"].said.reason


@pytest.mark.parametrize(
    ("parameter", "text", "why"),
    [
        (ParameterDef("a", kind=REAL, unit="s", role="radio_loss.delay"), None, "a is not in the settings"),
        (ParameterDef("a", kind=REAL, unit="s", role="radio_loss.delay"), "soon", "a is 'soon', no number"),
        (ParameterDef("a", kind=REAL, unit="V", role="radio_loss.delay"), "2", "a is in V, which is no time"),
        (ParameterDef("a", kind=REAL, role="radio_loss.delay"), "2", "neither factor nor unit says"),
        (
            ParameterDef("a", kind=CHOICE, role="radio_loss.action", choices=(Choice("0", "land"),)),
            "7",
            "a is 7, and the catalog does not say what that means",
        ),
    ],
)
def test_what_cannot_be_told_says_why(parameter, text, why):
    made = say(parameter, **({} if text is None else {"a": text}))[parameter.role]
    assert isinstance(made.said, NotStated)
    assert why in made.said.reason
    assert made.said.silence is Silence.NOT_READ
    assert told(made) == "not stated"


def test_two_settings_of_one_role_must_agree():
    left = ParameterDef("left", kind=REAL, unit="s", role="radio_loss.delay")
    right = ParameterDef("right", kind=REAL, unit="ms", role="radio_loss.delay")
    assert told(say(left, right, left="2", right="2000")["radio_loss.delay"]) == "2 s"
    said = say(left, right, left="2", right="200")["radio_loss.delay"].said
    assert said.reason == "left, right says 2, 200; nothing says which of them is in use"


def test_what_waits_for_a_decision_says_so():
    act = ParameterDef("act", kind=CHOICE, role="radio_loss.action", choices=(Choice("0", "land"),))
    catalog = Catalog((act,), CatalogSource.STATED)
    made = statements({}, catalog, "sand-1.0", waiting=frozenset({Key("act")}))
    (one,) = (one for one in made if one.topic.role == "radio_loss.action")
    assert one.said == NotStated("still to decide: act", Silence.TO_DECIDE)
    assert told(one) == "to decide"


def test_further_roles_of_the_families_are_told_too():
    horn = ParameterDef("horn", kind=REAL, unit="ms", role="arming.horn_time")
    lamp = ParameterDef("lamp", kind=ValueKind.FLAG, role="radio_loss.lamp")
    made = say(horn, lamp, horn="250", lamp="1")
    assert sentence(made["arming.horn_time"]) == "arming, horn time: 0.25 s"
    assert sentence(made["radio_loss.lamp"]) == "radio lost, lamp: on"
    assert [topic.role for topic in topics_for(["rate_loop.rate"])] == [topic.role for topic in TOPICS]


@pytest.mark.parametrize(
    ("value", "text"),
    [(Fraction(2, 3), "0.6667"), (Fraction(123456), "123456"), (Fraction(-1, 8), "-0.125"), (0, "0")],
)
def test_numbers_are_written_plainly(value, text):
    assert number_text(Fraction(value), 4) == text
