"""Catalogs as tables, as plain JSON lists, learned from a factory listing, and the overlay beside them."""

from __future__ import annotations

from decimal import Decimal as D

import pytest

from asflown.core.catalog import (
    Belonging,
    Catalog,
    CatalogSource,
    Choice,
    Consequence,
    ParameterDef,
    ValueKind,
)
from asflown.core.record import Key
from asflown.errors import InputError
from asflown.formats import catalog_factory, catalog_mavlink, catalog_table, listing, overlay

CSV = b"""name,group,type,units,min,max,default,choices,description,role,factor,consequence,belonging,decimals,banks,indexes,plain
hush.wait,link,float,s,0,10,1.50,,"time, then lost",link.timeout,0.001,safety,airframe,2,,,0=off
lamp.colour,lamp,enum,,,,red,red|green|blue,,,,comfort,pilot,,,,
sway.grip,,float,,,,,,,,,,,,calm|brisk,1;2;3,
alarm.on,,bits,,,,3,0=horn|3=lamp,,,,,,,,,
"""


def test_every_column_of_a_table():
    wait, lamp, sway, alarm = catalog_table.read(CSV, "c.csv").parameters
    assert (wait.kind, wait.unit, wait.minimum, wait.maximum) == (ValueKind.REAL, "s", D(0), D(10))
    assert (wait.default, wait.decimals, wait.role, wait.factor) == ("1.50", 2, "link.timeout", D("0.001"))
    assert (wait.consequence, wait.belonging) == (Consequence.SAFETY, Belonging.AIRFRAME)
    assert (wait.description, wait.plain_values) == ("time, then lost", (Choice("0", "off"),))
    assert (lamp.kind, lamp.choices[1]) == (ValueKind.CHOICE, Choice("green", "green"))
    assert (sway.banks, sway.indexes, len(sway.keys())) == (("calm", "brisk"), ("1", "2", "3"), 6)
    assert (sway.consequence, sway.default) == (Consequence.UNKNOWN, None)
    assert (alarm.kind, alarm.bits) == (ValueKind.BITS, (Choice("0", "horn"), Choice("3", "lamp")))


@pytest.mark.parametrize("sign", [b",", b";", b"\t"])
def test_separators_line_ends_and_byte_order_marks(sign):
    data = (
        b"\xef\xbb\xbf" + sign.join([b"Name", b"Default"]) + b"\r\n" + sign.join([b"a", b"1.0"]) + b"\r\n\r\n"
    )
    assert catalog_table.read(data, "c.csv").parameters == (ParameterDef("a", default="1.0"),)


@pytest.mark.parametrize(
    ("word", "kind"),
    [("bool", "flag"), ("INT", "integer"), ("uint8", "integer"), ("float", "real"), ("enum", "choice"), ("str", "text"), ("odd", "unknown")],
)  # fmt: skip
def test_type_words(word, kind):
    made = catalog_table.read(f'[{{"name": "a", "type": "{word}"}}]'.encode(), "c.json")
    assert made.parameters[0].kind.value == kind


def test_a_plain_json_list():
    made = catalog_table.read(
        b'[{"name": "a", "default": true, "choices": null, "units": null}, {"name": "b", "default": 0.10, "min": 1e-3},'
        b' {"name": "c", "choices": [["r", "red"], {"value": "g", "label": "green"}, "blue"]}, {"name": "d", "default": [1, 2]}]',
        "c.json",
    ).parameters
    assert [item.default for item in made] == ["true", "0.10", None, "[1, 2]"]
    assert made[1].minimum == D("0.001")
    assert made[2].choices == (Choice("r", "red"), Choice("g", "green"), Choice("blue", "blue"))


def test_every_fault_of_a_table_with_its_line():
    data = b"name,min,consequence,decimals,hue\na,x,awful,1.5,\na,1,none,2,\n,1,,,\n"
    with pytest.raises(InputError) as caught:
        catalog_table.read(data, "c.csv")
    told = str(caught.value)
    for part in ("c.csv:2: min must be a number, got 'x'", "consequence must be one of safety", "'hue' is none of the columns", "decimals must be a whole number"):  # fmt: skip
        assert part in told
    assert "c.csv:4: has no name" in told


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "no column 'name'"),
        (b"a,b\n1,2\n", "no column 'name'"),
        (b"name,name\n", "stands twice"),
        (b"name\n", "holds no parameter"),
        (b"name,min\na,1,2\n", "c.csv:2: 3 cells"),
        (b'[{"name": "a"}, {"name": "a"}]', "'a' stands twice"),
        (b'[{"name": "a", "min": NaN}]', "is no number that can be stored"),
        (b'[{"name": "a", "consequence": {}}]', "consequence must be one of"),
        (b"[5]", "is no object"),
        (b'{"a": 1}', "is no list"),
    ],
)
def test_tables_that_cannot_be_read(data, says):
    with pytest.raises(InputError) as caught:
        catalog_table.read(data, "c.csv")
    assert says in str(caught.value)


def test_what_a_factory_listing_teaches():
    shown = listing.read(
        b"put gain[1] = 45.0\nput gain[2] = 45.0\nput wait = 1.50 s\nput lamp = red\nput mode = 3\n"
    )
    made = catalog_factory.learn(shown)
    assert made.source is CatalogSource.FACTORY_LISTING
    gain = made.by_name["gain"]
    assert (gain.kind, gain.decimals, gain.indexes, gain.default) == (ValueKind.REAL, 1, ("1", "2"), "45.0")
    assert (made.by_name["wait"].unit, made.by_name["wait"].decimals) == ("s", 2)
    assert made.by_name["lamp"].kind is ValueKind.TEXT
    assert made.by_name["mode"].kind is ValueKind.UNKNOWN  # may be a choice, bits or a slot
    assert made.factory_value(Key("gain", index="2")) == "45.0"
    assert all(item.consequence is Consequence.UNKNOWN for item in made.parameters)


OVERLAY = b"""[all]
consequence = "comfort"
[group."Quay"]
consequence = "handling"
belonging = "airframe"
[parameter.QUAY_TRIM]
consequence = "safety"
why = "the quay tips over"
factor = "0.01"
plain = { "0" = "off" }
needs = "QUAY_MODE"
private = true
"""


def stated(*names, group=None):
    return Catalog(tuple(ParameterDef(name, group=group) for name in names), CatalogSource.STATED)


def test_the_overlay_goes_from_all_over_group_to_parameter():
    catalog = Catalog(
        (
            ParameterDef("QUAY_TRIM", group="Quay"),
            ParameterDef("QUAY_MODE", group="Quay"),
            ParameterDef("LAMP"),
        ),
        CatalogSource.STATED,
    )
    trim, mode, lamp = overlay.apply(OVERLAY, "overlay.toml", catalog).parameters
    assert (trim.consequence, trim.belonging, trim.factor) == (
        Consequence.SAFETY,
        Belonging.AIRFRAME,
        D("0.01"),
    )
    assert (trim.consequence_why, trim.plain_values) == ("the quay tips over", (Choice("0", "off"),))
    assert (trim.needs, trim.private, mode.private) == (("QUAY_MODE",), True, False)
    assert (mode.consequence, lamp.consequence) == (Consequence.HANDLING, Consequence.COMFORT)


def test_names_an_overlay_does_not_know_are_faults_with_their_line():
    with pytest.raises(InputError) as caught:
        overlay.apply(OVERLAY, "overlay.toml", stated("LAMP"))
    told = str(caught.value)
    assert "overlay.toml:6 parameter.QUAY_TRIM: the catalog has no such parameter" in told
    assert "overlay.toml:3 group.Quay: the catalog has no such group" in told


def test_every_fault_of_an_overlay_at_once():
    data = b"[parameter.A]\nfactor = nan\n"
    with pytest.raises(InputError, match="no number"):
        overlay.apply(data, "o", stated("A"))
    data = b'[parameter.A]\nfactor = "x"\ncolour = 1\nconsequence = "awful"\n[parameter.B]\nprivate = 3\n'
    with pytest.raises(InputError) as caught:
        overlay.apply(data, "o", stated("A", "B"))
    told = str(caught.value)
    for part in ("o:2 parameter.A.factor", "o:3 parameter.A.colour: is no key", "o:4 parameter.A.consequence", "o:6 parameter.B.private"):  # fmt: skip
        assert part in told


PLACEHOLDER = b'{"version": 1, "parameters": [{"name": "HULL{n}_LOAD", "type": "Int32", "units": "g"}]}'


def test_a_placeholder_becomes_the_numbers_a_factory_listing_shows():
    catalog = catalog_mavlink.read(PLACEHOLDER, "c.json")
    learned = catalog_factory.learn(listing.read(b"HULL1_LOAD = 5\nHULL2_LOAD = 7\nHULL_LOAD = 9\n"))
    made = catalog_factory.with_factory(catalog, learned)
    assert [(item.name, item.unit) for item in made.parameters] == [
        ("HULL1_LOAD", "g"),
        ("HULL2_LOAD", "g"),
        ("HULL_LOAD", None),
    ]
    laid = overlay.apply(b'[parameter."HULL{n}_LOAD"]\nfactor = "0.001"\n', "o", made)
    assert [item.factor for item in laid.parameters] == [D("0.001"), D("0.001"), None]


def test_a_placeholder_becomes_the_indexes_an_overlay_states():
    data = b'[parameter."HULL{n}_LOAD"]\nindexes = ["1", "2"]\nneeds = ["HULL{n}_ON"]\n'
    made = overlay.apply(data, "o", catalog_mavlink.read(PLACEHOLDER, "c.json")).parameters
    assert [(item.name, item.needs, item.indexes) for item in made] == [
        ("HULL1_LOAD", ("HULL1_ON",), ()),
        ("HULL2_LOAD", ("HULL2_ON",), ()),
    ]
