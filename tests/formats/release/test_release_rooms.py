"""Release folders: catalogs of every form, what is missing, what is too much, and whose fault is told where."""

from __future__ import annotations

import hashlib
import json
import lzma

import pytest

from asflown.core.catalog import CatalogSource
from asflown.errors import InputError
from asflown.formats import release_folder

MAVLINK = b'{"version": 3, "parameters": [{"name": "GAIN", "default": 4, "type": "Uint8"}]}'
PLAIN = b'[{"name": "GAIN", "type": "int", "default": 4}]'
CSV = b"name,type,default\nGAIN,int,4\n"
NOTES = b'from = "reed-3.1"\nto = "reed-3.2"\n'


def refused(files, name="reed-3.2"):
    with pytest.raises(InputError) as caught:
        release_folder.read(files, name)
    return [str(fault) for fault in caught.value.faults] or [str(caught.value)]


@pytest.mark.parametrize(
    "files",
    [
        {"catalog.json": MAVLINK},
        {"catalog.json.xz": lzma.compress(MAVLINK)},
        {"catalog.json": PLAIN},
        {"catalog.csv": CSV},
    ],
    ids=lambda files: next(iter(files)),
)
def test_a_catalog_in_each_form(files):
    made = release_folder.read(files, "reed-3.2").catalog
    assert [(item.name, item.default) for item in made.parameters] == [("GAIN", "4")]
    assert made.source is CatalogSource.STATED


@pytest.mark.parametrize("name", ["factory", "factory.txt", "factory.conf"])
def test_a_bare_factory_listing_is_a_catalog_of_names_and_values(name):
    made = release_folder.read({name: b"gain = 4\nlimit = 5.0\n"}, "reed-3.2")
    assert made.catalog.source is CatalogSource.FACTORY_LISTING
    assert [(item.name, item.default, item.decimals) for item in made.catalog.parameters] == [
        ("gain", "4", None),
        ("limit", "5.0", 1),
    ]
    assert dict(release_folder.stated(made))["consequences"] == "not stated"


def test_a_listing_adds_names_a_catalog_does_not_state():
    made = release_folder.read(
        {"catalog.csv": CSV, "factory.txt": b"GAIN = 6\nnew = 1\n"}, "reed-3.2"
    ).catalog
    assert [item.name for item in made.parameters] == ["GAIN", "new"]
    assert [made.factory_value(key) for key in made.keys] == ["6", "1"]
    assert made.by_name["GAIN"].default == "4"


def test_more_than_one_catalog_or_factory_listing():
    assert refused({"catalog.csv": CSV, "catalog.json": PLAIN}) == [
        "reed-3.2: more than one catalog: catalog.json, catalog.csv"
    ]
    assert refused({"factory.txt": b"a = 1\nb = 2\n", "factory": b"a = 1\nb = 2\n"}) == [
        "reed-3.2: more than one factory listing: factory.txt, factory"
    ]


def test_a_factory_listing_that_cannot_be_read_is_named():
    told = refused({"factory.txt": bytes(range(256)) * 4})
    assert len(told) == 1
    assert told[0].startswith("factory.txt: ")
    assert "binary" in told[0]


def test_lines_of_a_factory_listing_that_are_not_understood_are_remarked():
    text = b"".join(b"put gain_%d = %d\n" % (n, n) for n in range(30)) + b"put gain_31\nput last = 4\n"
    made = release_folder.read({"factory.txt": text}, "reed-3.2")
    assert "factory.txt: 1 line not understood (line 31)" in made.remarks


def test_unknown_and_hidden_files():
    files = {
        "catalog.csv": CSV,
        "leaf/let.pdf": b"%",
        "Notes.toml": NOTES,
        ".git/config": b"x",
        "notes/.x": b"",
    }
    made = release_folder.read(files, "reed-3.2")
    remarks = [remark for remark in made.remarks if "is not read" in remark]
    assert remarks == [
        "Notes.toml is not read: no file of a release",
        "leaf/let.pdf is not read: no file of a release",
    ]
    assert [original.name for original in made.originals] == ["Notes.toml", "catalog.csv", "leaf/let.pdf"]
    kept = made.originals[1]
    assert (kept.sha256, kept.size, kept.kind) == (hashlib.sha256(CSV).hexdigest(), len(CSV), "catalog")


@pytest.mark.parametrize(
    "name, id_, firmware, version",
    [
        ("reed-3.2", "reed-3.2", "reed", "3.2"),
        ("a/b/Reed Mini-4.0/", "reed-mini-4.0", "reed-mini", "4.0"),
        ("reed", "reed", "reed", "reed"),
        ("---", "release", "release", "release"),
    ],
)
def test_the_folder_names_the_release_where_nothing_else_does(name, id_, firmware, version):
    made = release_folder.read({"catalog.csv": CSV}, name)
    assert (made.id, made.firmware, made.version) == (id_, firmware, version)
    assert made.remarks[0] == f"release.toml is missing; taken from the folder's name: {id_}"


def test_a_version_without_quotes_keeps_its_noughts():
    made = release_folder.read({"release.toml": b'firmware = "reed"\nversion = 4.10\n'}, "x")
    assert (made.version, made.id) == ("4.10", "reed-4.10")


def test_notes_of_several_steps_and_the_fault_of_one():
    good = {"notes.toml": NOTES, "notes/b.toml": NOTES.replace(b"3.1", b"3.0")}
    made = release_folder.read(good, "reed-3.2")
    assert [(item.from_release, item.original.name) for item in made.notes] == [
        ("reed-3.1", "notes.toml"),
        ("reed-3.0", "notes/b.toml"),
    ]
    bad = {**good, "notes/c.toml": b"from = \n", "devices.toml": b'[[need]]\ndevice = "x"\nspeed = 1\n'}
    told = refused(bad)
    assert any(fault.startswith("notes/c.toml:1") for fault in told)
    assert "devices.toml:1 need[1].statement: is missing" in told
    assert "devices.toml:3 need[1].speed: is no key of this file" in told
    assert len(told) == 3


def test_an_empty_room_is_stated_and_a_missing_one_is_not():
    made = release_folder.read({"catalog.csv": CSV, "functions.toml": b""}, "reed-3.2")
    assert made.functions == ()
    assert made.device_needs is None
    rooms = dict(release_folder.stated(made))
    assert (rooms["optional functions"], rooms["needs of fitted devices"]) == ("0 functions", "not stated")


def test_no_file_at_all():
    assert "holds no file" in refused({})[0]
    assert "holds no file" in refused({".hidden": b"x"})[0]


def test_a_key_the_open_standard_does_not_have_points_to_the_overlay():
    tree = json.loads(MAVLINK)
    tree["parameters"][0]["role"] = "gain"
    told = refused({"catalog.json": json.dumps(tree).encode()})
    assert told == ["catalog.json parameters[1]: 'role' is no key of the standard"]
