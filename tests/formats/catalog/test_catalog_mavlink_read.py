"""Catalogs in the open MAVLink parameter metadata JSON.

Facts of the schema: component_metadata/parameter.schema.json of the MAVLink project (draft-07, stored commit 057c744a).
"""

from __future__ import annotations

import json
import lzma
from decimal import Decimal as D

import pytest

from asflown.core.catalog import CatalogSource, Choice, ValueKind
from asflown.errors import InputError
from asflown.formats import catalog_mavlink


def read(*parameters, **head):
    return catalog_mavlink.read(
        json.dumps({"version": 3, "parameters": parameters} | head).encode(), "c.json"
    )


def one(**item):
    return read({"name": "QUAY_TRIM", **item}).parameters[0]


def refused(*parameters, **head):
    with pytest.raises(InputError) as caught:
        read(*parameters, **head)
    return str(caught.value)


def test_every_key_of_the_standard_is_understood():
    made = one(
        type="Int16", shortDesc="trim", longDesc="of the quay", units="cdeg", default=-3, min=-500, max=500,
        increment=5, rebootRequired=True, group="Quay", category="Standard", volatile=True, readOnly=True,
    )  # fmt: skip
    assert (made.kind, made.type, made.unit, made.default) == (ValueKind.INTEGER, "Int16", "cdeg", "-3")
    assert (made.minimum, made.maximum, made.increment) == (D(-500), D(500), D(5))
    assert (made.reboot, made.volatile, made.read_only, made.group) == (True, True, True, "Quay")
    assert "trim" in made.description
    assert "of the quay" in made.description


def test_only_the_name_is_required():
    made = one()
    assert (made.name, made.default, made.minimum, made.choices, made.volatile) == (
        "QUAY_TRIM",
        None,
        None,
        (),
        False,
    )


def test_decimal_places_are_seven_unless_stated():
    assert one(type="Float").decimals == 7
    assert one(type="Float", decimalPlaces=2).decimals == 2


@pytest.mark.parametrize("word", ["Uint8", "Int8", "Uint16", "Int16", "Uint32", "Int32", "Float"])
def test_every_type_word_of_the_standard(word):
    assert one(type=word).kind is (ValueKind.REAL if word == "Float" else ValueKind.INTEGER)


@pytest.mark.parametrize("word", ["uint8", "Uint64", "Double", "string", ""])
def test_other_type_words_are_refused(word):
    assert f"type '{word}' is none of" in refused({"name": "A", "type": word})


@pytest.mark.parametrize("name", ["A", "a.b-c_9", "X" * 16, "HULL{n}_LOAD"])
def test_names_the_standard_allows(name):
    assert read({"name": name}).parameters[0].name == name


@pytest.mark.parametrize("name", ["", "X" * 17, "A B", "Ä", "a[1]", None, 5])
def test_names_it_does_not_allow(name):
    assert "does not match" in refused({"name": name})


def test_values_are_choices_and_bits_are_bits():
    made = one(type="Uint8", values=[{"value": 0, "description": "off"}, {"value": 2, "description": "slow"}])
    assert (made.kind, made.choices) == (ValueKind.CHOICE, (Choice("0", "off"), Choice("2", "slow")))
    made = one(type="Uint16", bitmask=[{"index": 3, "description": "lamp"}])
    assert (made.kind, made.bits) == (ValueKind.BITS, (Choice("3", "lamp"),))


def test_a_named_value_of_a_wide_range_is_a_plain_value():
    made = one(type="Int32", min=-1, max=2000, values=[{"value": -1, "description": "automatic"}])
    assert (made.kind, made.plain_values) == (ValueKind.INTEGER, (Choice("-1", "automatic"),))


def test_numbers_are_exact():
    made = catalog_mavlink.read(
        b'{"version": 1, "parameters": [{"name": "A", "min": 0.1, "default": 0.30}]}', "c"
    )
    assert (made.parameters[0].minimum, made.parameters[0].default) == (D("0.1"), "0.30")


def test_extra_keys_are_refused_with_the_way_out():
    # additionalProperties is false in the standard
    told = refused({"name": "A", "role": "x"}, {"name": "B", "consequence": "safety"})
    assert "parameters[1]: 'role' is no key of the standard" in told
    assert "parameters[2]: 'consequence' is no key of the standard" in told
    assert "overlay.toml" in told


def test_every_fault_is_told_at_once():
    told = refused({"name": "A", "min": "1"}, 5, {"name": "A"}, {"name": "A"}, {"name": "B", "volatile": 1})
    for part in (
        "min must be a number",
        "[2]: is no object",
        "'A' stands twice",
        "volatile must be true or false",
    ):
        assert part in told


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b'{"version": 1, "parameters": [{"name": "A", "name": "B"}]}', "'name' stands twice"),
        (b'{"version": 1, "parameters": [{"name": "A", "min": NaN}]}', "is no number that can be stored"),
        (
            b'{"version": 1, "parameters": [{"name": "A", "max": Infinity}]}',
            "is no number that can be stored",
        ),
        (
            b'{"version": 1, "parameters": [{"name": "A", "max": 1e999999999}]}',
            "beyond what any device stores",
        ),
        (b'{"version": 1, "parameters": [{"name": "A", }]}', "c.json:1 column"),
        (b'{"version": "1", "parameters": []}', "'version' must be a whole number"),
        (b"[]", "has no list 'parameters'"),
        (b"[" * 100_000, "cannot be read"),
        (b"\xff\xfe", "is no UTF-8"),
    ],
)
def test_what_cannot_be_read(data, says):
    with pytest.raises(InputError) as caught:
        catalog_mavlink.read(data, "c.json")
    assert says in str(caught.value)


def test_packed_files():
    plain = json.dumps({"version": 1, "parameters": [{"name": "A"}]}).encode()
    packed = lzma.compress(plain)
    assert catalog_mavlink.read(packed, "c.xz") == catalog_mavlink.read(plain, "c")
    assert catalog_mavlink.read(plain, "c").source is CatalogSource.STATED
    with pytest.raises(InputError, match="cut short"):
        catalog_mavlink.read(packed[:-9], "c.xz")
    with pytest.raises(InputError, match="damaged"):
        catalog_mavlink.read(packed[:30] + b"\x00" * 9 + packed[39:], "c.xz")


def test_a_small_file_does_not_unpack_without_end():
    bomb = lzma.compress(b" " * (65 * 1024 * 1024), preset=0)
    assert len(bomb) < 100_000
    with pytest.raises(InputError, match="unpacks to more than"):
        catalog_mavlink.read(bomb, "c.xz")
