"""What a hand-over leaves out: the catalog decides about places, the words of a name about keys and people."""

from __future__ import annotations

import pytest

from asflown.app.private import is_private
from asflown.core.catalog import Belonging, Catalog, CatalogSource, ParameterDef


def catalog(name, **facts):
    return Catalog((ParameterDef(name, **facts),), CatalogSource.STATED)


@pytest.mark.parametrize(
    ("name", "facts", "is_left_out"),
    [
        ("home.east", {}, True),  # nobody states what it belongs to: its name tells
        ("show.home.row", {"belonging": Belonging.PILOT}, False),
        ("field.x", {"belonging": Belonging.PLACE}, True),
        ("pair.word", {"private": True, "belonging": Belonging.DEVICE}, True),
        ("radio.bind", {"belonging": Belonging.DEVICE}, True),  # a key is a key whatever it belongs to
        ("keyed.beep", {}, False),  # part of a word is no word
        ("roll.firm", {}, False),
    ],
)
def test_what_is_left_out(name, facts, is_left_out):
    assert is_private(name, catalog(name, **facts)) is is_left_out


def test_without_a_catalog_the_name_tells():
    assert is_private("home.east", None)
    assert not is_private("roll.firm", None)
