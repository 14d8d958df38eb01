"""Aircraft descriptions and release folders as people write them."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.aircraft import Aircraft, Battery, FittedDevice, Motors, Propellers
from asflown.errors import InputError
from asflown.formats import aircraft_toml, release_folder

WORDS = st.none() | st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
SIZES = st.none() | st.floats(1e-6, 1e6)
AIRCRAFT = st.builds(
    Aircraft,
    id=st.from_regex(r"[a-z0-9][a-z0-9-]{0,12}", fullmatch=True),
    title=st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=20),
    board=WORDS, release=WORDS, mass_kg=SIZES, owner=WORDS, remarks=WORDS,
    motors=st.builds(Motors, st.none() | st.integers(1, 32), WORDS, WORDS, st.none() | st.integers(2, 100)),
    propellers=st.builds(Propellers, SIZES, SIZES, st.none() | st.integers(2, 8), WORDS),
    battery=st.builds(Battery, st.none() | st.integers(1, 24), SIZES, WORDS),
    devices=st.lists(
        st.builds(FittedDevice, st.from_regex(r"[a-z0-9][a-z0-9-]{0,9}", fullmatch=True).filter(lambda n: n != "board"), st.text(max_size=9, alphabet="abc "), WORDS, WORDS, WORDS),
        max_size=3, unique_by=lambda device: device.name,
    ).map(tuple),
)  # fmt: skip


@given(AIRCRAFT)
def test_what_is_written_reads_back_equal(aircraft):
    assert aircraft_toml.read(aircraft_toml.write(aircraft), "a.toml") == aircraft


def test_the_template_names_every_key():
    text = aircraft_toml.write(Aircraft("plover", "Plover")).decode()
    for word in ("board", "mass_kg", "[motors]", "poles", "[propellers]", "pitch_m", "[battery]", "capacity_ah", "[[device]]"):  # fmt: skip
        assert word in text


def test_every_fault_with_its_line():
    data = b'id = "Plover!"\ntitle = ""\nmass_kg = -1\nhue = 3\n[motors]\ncount = 0\n[[device]]\nname = "board"\nkind = 4\n'
    with pytest.raises(InputError) as caught:
        aircraft_toml.read(data, "a.toml")
    told = str(caught.value)
    for part in ("a.toml:1 id", "a.toml:2 title", "a.toml:3 mass_kg", "a.toml:4 hue", "a.toml:6 motors.count", "a.toml:9 device[1].kind"):  # fmt: skip
        assert part in told


FOLDER = {
    "release.toml": b'firmware = "reed"\nversion = "3.2"\nboards = ["quill"]\n',
    "catalog.csv": b"name,default\nhush.wait,1.5\n",
    "overlay.toml": b'[parameter."hush.wait"]\nconsequence = "safety"\n',
    "notes/from-3.1.toml": b'from = "reed-3.1"\nto = "reed-3.2"\n',
    "devices.toml": b'[[need]]\ndevice = "receiver"\nstatement = "channel order as before"\n',
    "functions.toml": b'[[function]]\nname = "lamps"\nflash = 512\n',
    "image_words.toml": b'[[word]]\nkind = "board"\noffset = 512\nvalue = "QUILL"\n',
    "factory.txt": b"hush.wait = 2.0\nlamp.on = 1\n",
    "images/quill.bin": b"\x00\x01",
    "read me.txt": b"hello",
}


def test_a_whole_folder():
    made = release_folder.read(FOLDER, "reed-3.2")
    assert (made.id, made.firmware, made.version, made.boards) == ("reed-3.2", "reed", "3.2", ("quill",))
    assert [item.name for item in made.catalog.parameters] == ["hush.wait", "lamp.on"]
    assert made.catalog.by_name["hush.wait"].consequence == "safety"
    assert made.catalog.factory_value(made.catalog.keys[0]) == "2.0"  # the listing wins over the stated 1.5
    assert [(o.name, o.sha256) for o in made.images] == [
        ("images/quill.bin", hashlib.sha256(b"\x00\x01").hexdigest())
    ]
    assert made.notes[0].original.name == "notes/from-3.1.toml"
    assert {original.name for original in made.originals} == set(FOLDER)
    assert any("read me.txt" in remark for remark in made.remarks)
    rooms = dict(release_folder.stated(made))
    assert (rooms["change notes"], rooms["needs of fitted devices"], rooms["image words"]) == ("1 files", "1 statements", "1 words")  # fmt: skip


@pytest.mark.parametrize(
    "path", sorted(FOLDER.keys() - {"release.toml", "overlay.toml", "catalog.csv", "read me.txt"})
)
def test_each_room_may_be_missing(path):
    made = release_folder.read({name: data for name, data in FOLDER.items() if name != path}, "reed-3.2")
    assert "not stated" in dict(release_folder.stated(made)).values()


def test_a_folder_with_nothing_but_a_name():
    made = release_folder.read({"notes.toml": FOLDER["notes/from-3.1.toml"]}, "some/where/Reed-3.2/")
    assert (made.id, made.catalog, made.images, made.boards) == ("reed-3.2", None, None, None)


def test_the_faults_of_all_files_at_once():
    bad = {
        **FOLDER,
        "devices.toml": b"[[need]]\n",
        "notes.toml": b"from = 1\n",
        "catalog.csv": b"hue\n",
        "release.toml": b"x =",
    }
    with pytest.raises(InputError) as caught:
        release_folder.read(bad, "reed-3.2")
    told = str(caught.value)
    for part in ("devices.toml", "notes.toml", "catalog.csv:1", "release.toml"):
        assert part in told


def test_an_overlay_needs_something_below_it():
    with pytest.raises(InputError, match="no catalog") as caught:
        release_folder.read({"overlay.toml": FOLDER["overlay.toml"]}, "reed-3.2")
    assert caught.value.faults or "no catalog" in str(caught.value)
