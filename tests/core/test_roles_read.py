"""Settings by role: SI by factor or unit, words never as numbers, banks and lists of changes."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from asflown.core.catalog import Catalog, CatalogSource, Choice, ParameterDef, ValueKind
from asflown.core.record import Extent, Key, Moment, Record, Setting
from asflown.core.roles import of_record, values_by_role

REAL = ValueKind.REAL
PARAMETERS = (
    ParameterDef(
        "firm", kind=REAL, role="loop.gain", factor=Decimal("0.0009765625"), banks=("set 1", "set 2")
    ),
    ParameterDef("quick", kind=REAL, role="stick.full", unit="deg/s", default="180"),
    ParameterDef(
        "cut", kind=REAL, role="filter.cutoff", factor=Decimal("0.1"), plain_values=(Choice("0", "off"),)
    ),
    ParameterDef("form", kind=ValueKind.CHOICE, role="filter.kind", choices=(Choice("2", "two steps"),)),
    ParameterDef("wide", kind=REAL, role="filter.width"),
    ParameterDef("left", kind=REAL, role="twice.said", factor=Decimal(1)),
    ParameterDef("right", kind=REAL, role="twice.said", factor=Decimal(1)),
    ParameterDef("plain"),
)
CATALOG = Catalog(PARAMETERS, CatalogSource.STATED)


def read(texts, **more):
    return values_by_role({Key(*name.split("/")): text for name, text in texts.items()}, CATALOG, **more)


def test_numbers_are_in_si():
    made = read({"firm/set 1": "512", "firm/set 2": "512", "quick": "360", "cut": "905"})
    assert made.values["loop.gain"] == 0.5
    assert made.values["stick.full"] == pytest.approx(2 * math.pi, rel=1e-15)
    assert made.values["filter.cutoff"] == 90.5
    assert made.stored["filter.cutoff"] == 905.0


@pytest.mark.parametrize(
    ("texts", "role", "stored", "says"),
    [
        ({"cut": "0"}, "filter.cutoff", 0.0, "cut is 0 (off), a word"),
        ({"cut": "0.00"}, "filter.cutoff", 0.0, "cut is 0.00 (off), a word"),
        ({"cut": "off"}, "filter.cutoff", 0.0, "cut is off, a word"),
        ({"form": "2"}, "filter.kind", 2.0, "form is 2 (two steps), a word"),
        ({"form": "two steps"}, "filter.kind", 2.0, "form is two steps, a word"),
        ({"form": "7"}, "filter.kind", 7.0, "form is 7, a word"),
        ({"wide": "4"}, "filter.width", 4.0, "neither factor nor unit says what wide is"),
        ({"cut": "fast"}, "filter.cutoff", None, "cut is 'fast', no number"),
        ({}, "filter.cutoff", None, "cut is not in the settings"),
        ({"left": "1", "right": "2"}, "twice.said", None, "left, right says 1, 2"),
        ({"firm/set 1": "1", "firm/set 2": "2"}, "loop.gain", None, "firm says 1, 2"),
    ],
)
def test_what_is_no_number_says_why(texts, role, stored, says):
    made = read(texts)
    assert role not in made.values
    assert made.stored.get(role) == stored
    assert says in made.unusable[role]


def test_two_that_agree_are_one():
    assert read({"left": "1.5", "right": "1.50"}).values["twice.said"] == 1.5


def test_the_active_bank_counts():
    texts = {"firm/set 1": "1024", "firm/set 2": "2048"}
    assert read(texts, banks=["set 2"]).values["loop.gain"] == 2.0


def record(extent: Extent, active: dict[str, str]) -> Record:
    settings = (Setting(Key("firm", "set 1"), "1024"), Setting(Key("firm", "set 2"), "2048"))
    return Record(
        "a-001", "a", "board", Moment.AS_FOUND, "r-1", None, "2026-03-07T09:00:00Z", settings, extent, active
    )


@pytest.mark.parametrize("active", [{"set": "2"}, {"in use": "set 2"}])
def test_a_record_says_which_bank_is_active(active):
    assert of_record(record(Extent.FULL, active), CATALOG).values["loop.gain"] == 2.0


def test_a_list_of_changes_has_factory_values_beside_it_and_a_full_one_has_not():
    changes = of_record(record(Extent.CHANGES_ONLY, {}), CATALOG)
    assert changes.values["stick.full"] == pytest.approx(math.pi)
    assert "stick.full" in of_record(record(Extent.FULL, {}), CATALOG).unusable
