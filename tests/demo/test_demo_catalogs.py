"""The worked example's release folders: what the open standard asks, and every trap in the data."""

import json
import re
import struct
from decimal import Decimal

import pytest

from asflown.core.catalog import Consequence, NoteKind, ValueKind
from asflown.demo import releases, scenario
from asflown.demo.firmware import changes
from asflown.demo.firmware import releases as firmware
from asflown.formats import listing, release_folder

OLD, NEW = scenario.OLD_RELEASE, scenario.NEW_RELEASE
# component_metadata/parameter.schema.json of the MAVLink project, draft-07, additionalProperties false
KEYS = set(
    [
        "name",
        "type",
        "shortDesc",
        "longDesc",
        "units",
        "default",
        "decimalPlaces",
        "min",
        "max",
        "increment",
        "rebootRequired",
        "group",
        "category",
        "volatile",
        "values",
        "bitmask",
        "readOnly",
    ]
)
TYPES = {"Uint8", "Int8", "Uint16", "Int16", "Uint32", "Int32", "Float"}


def is_single(value) -> bool:
    """Whether a 32-bit float holds a number exactly."""
    return Decimal(struct.unpack("<f", struct.pack("<f", float(value)))[0]) == Decimal(str(value))


@pytest.fixture(scope="module")
def read():
    return {name: release_folder.read(files, name) for name, files in releases.folders().items()}


@pytest.mark.parametrize("release", [OLD, NEW])
def test_catalogs_are_as_the_standard_has_them(release) -> None:
    body = json.loads(releases.folders()[release]["catalog.json"])
    assert body["version"] == 3
    names = [item["name"] for item in body["parameters"]]
    assert len(names) == len(set(names))
    for item in body["parameters"]:
        assert set(item) <= KEYS
        assert re.fullmatch(r"[.\-a-zA-Z0-9_]{1,16}", item["name"])
        assert item["type"] in TYPES
        assert item["min"] <= item["default"] <= item["max"], item["name"]
        for choice in item.get("values", ()):
            assert item["min"] <= choice["value"] <= item["max"], item["name"]
        for bit in item.get("bitmask", ()):
            assert 2 ** bit["index"] <= item["max"], item["name"]


@pytest.mark.parametrize("release", [OLD, NEW])
def test_sizes(release, read) -> None:
    catalog = read[release].catalog
    assert 250 <= len(catalog.parameters) <= 450
    assert 250 <= len(catalog.keys) <= 450
    assert all(item.consequence is not Consequence.UNKNOWN for item in catalog.parameters)


def test_folders_read_without_a_remark_and_are_the_same_each_time(read) -> None:
    assert all(not release.remarks for release in read.values())
    before = releases.folders()
    releases.folders.cache_clear()
    firmware.old.cache_clear()
    firmware.new.cache_clear()
    assert releases.folders() == before
    assert read[changes.MIDDLE].catalog is None
    assert {release: len(item.notes or ()) for release, item in read.items()} == {
        OLD: 0,
        changes.MIDDLE: 1,
        NEW: 1,
    }


@pytest.mark.parametrize("release", [OLD, NEW])
def test_the_factory_listing_shows_what_the_catalog_states(release, read) -> None:
    shown = listing.read(releases.folders()[release]["factory.txt"])
    assert not shown.not_understood
    assert {setting.key for setting in shown.settings} == set(read[release].catalog.keys)
    body = {
        item["name"]: item for item in json.loads(releases.folders()[release]["catalog.json"])["parameters"]
    }
    for setting in shown.settings:
        if setting.key.index is None:
            assert Decimal(setting.value) == Decimal(str(body[setting.key.name]["default"])), setting


@pytest.mark.parametrize("made", [firmware.old, firmware.new])
def test_float_values_fit_32_bits_exactly(made) -> None:
    for item in made().parameters:
        if item.is_float:
            for value in (*item.default, item.low, item.high):
                assert is_single(value), item.name


def test_found_values_fit_their_parameter_exactly() -> None:
    known = firmware.old().by_name
    for craft in scenario.CRAFTS:
        for key, value in craft.differing().items():
            item = known[key.name]
            assert item.low <= Decimal(value) <= item.high, key
            assert is_single(value) or not item.is_float, key
            assert value in item.choices or not item.choices, key


def test_every_change_speaks_of_names_that_are_there() -> None:
    names = {item.name for item in firmware.old().parameters}
    for step in (changes.MIDDLE, changes.NEW):
        made: set[str] = set()
        for change in (item for item in changes.changes() if item.step == step):
            assert set(change.old) <= names, change
            if change.new and change.kind != "default":
                made |= set(change.new)
        gone = {
            name
            for c in changes.changes()
            if c.step == step and c.kind not in ("default", "meaning")
            for name in c.old
        }
        names = (names - gone) | made
    new_names = {item.name for item in firmware.new().parameters}
    assert names <= new_names
    assert set().union(*firmware.successors().values()) == names


def test_the_new_definitions_are_no_leftovers() -> None:
    redefined = set(changes.redefined())
    assert redefined <= {item.name for item in firmware.new().parameters}
    for item in firmware.new().parameters:
        known = {other.name for other in firmware.new().parameters}
        assert {*item.needs, *(name for _, name in item.asks)} <= known, item.name
        assert item.unit_from is None or item.unit_from in known


def test_the_notes_have_every_kind(read) -> None:
    told = [change for release in read.values() for notes in release.notes or () for change in notes.changes]
    assert {change.kind for change in told} == set(NoteKind)
    assert any(not change.noted for change in changes.changes())


def both(read, old: str, new: str):
    return read[OLD].catalog.by_name[old], read[NEW].catalog.by_name[new]


def test_traps_of_units(read) -> None:
    before, now = both(read, "silent.wait", "silent.wait")
    assert (before.unit, now.unit) == ("0.1s", "ms")  # a copied number acts a hundred times sooner
    assert before.consequence is Consequence.SAFETY
    found = Decimal(scenario.PLOVER.plain["silent.wait"])
    assert now.minimum <= found <= now.maximum  # the board takes it
    before, now = both(read, "pack.warn", "cell.warn")
    assert (before.unit, now.unit) == ("0.1V", "0.01V")
    assert now.minimum <= Decimal(scenario.PLOVER.plain["pack.warn"]) <= now.maximum
    before, now = both(read, "roll.firm", "roll.firm")
    assert (before.kind, now.kind) == (ValueKind.REAL, ValueKind.INTEGER)
    assert before.factor / now.factor == 1024
    assert both(read, "bound.far", "bound.far")[0].unit_from == "dist.unit"


def test_traps_of_numbers_that_mean_something_else(read) -> None:
    for name, value in (("silent.act", "3"), ("shake.cut", "2"), ("dist.unit", "0"), ("switch.d.does", "6")):
        before, now = both(read, name, name)
        assert before.choice_label(value) != now.choice_label(value), name
    assert both(read, "silent.act", "silent.act")[1].choice_label("3") == "stop the motors"
    for name in ("ready.checks", "chirp.on"):
        before, now = both(read, name, name)
        assert {bit.label for bit in before.bits} <= {bit.label for bit in now.bits}
        assert before.bits != now.bits
    assert "upside-down start" not in {
        choice.label for choice in read[NEW].catalog.by_name["switch.a.does"].choices
    }
    assert read[NEW].catalog.by_name["switch.a.does"].slots


def test_traps_of_words_among_numbers(read) -> None:
    before, now = both(read, "hum.b.hz", "hum.b.at")
    assert before.choice_label("0") == now.choice_label("0") == "off"
    before, now = both(read, "silent.shut", "silent.shut")
    assert (before.choice_label("0"), now.choice_label("0"), now.choice_label("-1")) == (
        "never",
        "at once",
        "never",
    )


def test_traps_of_what_nobody_touched_or_that_went(read) -> None:
    before, now = both(read, "motor.idle", "motor.idle")
    assert (before.default, now.default) == ("55", "35")
    assert "motor.idle" not in scenario.PLOVER.plain
    assert "silent.climb" not in read[NEW].catalog.by_name
    assert scenario.PLOVER.plain["silent.climb"] != "0"
    assert {"push.trust.slow", "push.trust.fast"} <= set(read[NEW].catalog.by_name)
    assert "push.trust" not in read[NEW].catalog.by_name
    assert Decimal(scenario.PLOVER.plain["land.sink"]) > read[NEW].catalog.by_name["touch.sink"].maximum
    assert sum(bool(item.redo) for item in read[OLD].catalog.parameters) >= 8
    assert any(item.private for item in read[OLD].catalog.parameters)


def test_bare_folders_state_nothing_but_names_and_factory_values() -> None:
    for name, files in releases.bare_folders().items():
        catalog = release_folder.read(files, name).catalog
        assert all(item.consequence is Consequence.UNKNOWN for item in catalog.parameters)
        assert not any(item.description or item.choices for item in catalog.parameters)
