"""release and aircraft through the command line; the store's own refusals."""

from __future__ import annotations

import pytest

TOML = """\
id = "gull"
title = "Gull, the spare"
board = "brant-h7"
mass_kg = 0.8

[motors]
count = 4
layout = "quad X"

[[device]]
name = "escs"
kind = "speed controller"
version = "1.7"
"""


def test_a_release_fills_the_rooms_it_states_and_no_other(desk):
    from desk_files import NEW, NOTES

    desk.release("marl-2.0", catalog_csv=NEW, notes_toml=NOTES)
    body = desk("release", "show", "marl-2.0", "--json").json
    assert body["parameters"] == 9
    assert body["notes"] == [{"from": "marl-1.0", "to": "marl-2.0", "changes": 3, "complete": True}]
    assert body["rooms"]["images"] is None
    assert body["rooms"]["device needs"] is None
    assert {o["name"] for o in body["originals"]} == {"catalog.csv", "notes.toml", "release.toml"}
    text = desk("release", "show", "marl-2.0").out
    assert "not stated: device needs" in text
    assert [r["id"] for r in desk("release", "list", "--json").json["releases"]] == ["marl-2.0"]


def test_the_same_release_again_is_kept_once(desk):
    from desk_files import NEW

    desk.release("marl-2.0", catalog_csv=NEW)
    again = desk("release", "add", str(desk.folder / "marl-2.0"), "--json").json
    assert again["was_kept"] is False
    desk.write("marl-2.0/catalog.csv", NEW.replace("0.07", "0.08"))
    moved = desk("release", "add", str(desk.folder / "marl-2.0"), "--json").json
    assert moved["was_kept"] is True
    says = [e["says"] for e in desk("logbook", "releases", "--json").json["entries"]]
    assert [text.partition(":")[0] for text in says] == ["marl-2.0 brought in", "marl-2.0 brought in again"]


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("catalog.csv", "name,max\na,NaN\n", "catalog.csv"),
        ("notes.toml", 'from = "a"\nfrom = "b"\n', "notes.toml"),
        ("release.toml", "firmware = 3\n", "release.toml"),
    ],
)
def test_a_release_that_cannot_be_read_is_refused_whole(desk, name, text, says):
    desk.write("bad-1/release.toml", 'firmware = "bad"\nversion = "1"\n')
    desk.write(f"bad-1/{name}", text)
    refused = desk("release", "add", str(desk.folder / "bad-1"), code=1)
    assert says in refused.err
    assert desk("release", "list", "--json").json["releases"] == []


def test_folders_that_are_none(desk):
    assert "no such folder" in desk("release", "add", str(desk.folder / "nope"), code=1).err
    assert "is a file" in desk("release", "add", desk.write("x.txt", "x"), code=1).err
    (desk.folder / "empty").mkdir()
    assert "holds no file" in desk("release", "add", str(desk.folder / "empty"), code=1).err
    assert "there is no release 'x'" in desk("release", "show", "x", code=1).err


def test_an_aircraft_from_a_file(desk):
    path = desk.write("gull.toml", TOML)
    body = desk("aircraft", "new", "--from", path, "--json").json
    assert (body["id"], body["mass_kg"], body["motors"]["count"]) == ("gull", 0.8, 4)
    assert body["devices"][0]["version"] == "1.7"
    assert "already" in desk("aircraft", "new", "--from", path, code=1).err
    assert "describes 'gull'" in desk("aircraft", "new", "heron", "--from", path, code=1).err
    changed = desk.write("gull2.toml", TOML.replace("0.8", "0.9"))
    assert desk("aircraft", "edit", "gull", "--from", changed, "--json").json["mass_kg"] == 0.9
    entry = desk("logbook", "gull", "--json").json["entries"][-1]
    assert entry["body"]["changed"] == ["mass_kg: 0.8 -> 0.9"]
    faulty = desk.write("bad.toml", TOML.replace("0.8", "-1").replace("count", "cuont"))
    refused = desk("aircraft", "edit", "gull", "--from", faulty, code=1).err
    assert "mass_kg" in refused
    assert "cuont" in refused


def test_facts_one_by_one(desk):
    desk("aircraft", "new", "gull", "--set", "title=Gull", "battery.cells=4", "device.esc.version=2.1")
    body = desk(
        "aircraft", "edit", "--set", "battery.cells=", "device.esc.kind=speed controller", "--json"
    ).json
    assert body["battery"]["cells"] is None
    assert body["devices"][0]["kind"] == "speed controller"
    body = desk("aircraft", "edit", "--remove-device", "esc", "--json").json
    assert body["devices"] == []
    text = desk("aircraft", "show").out
    assert "battery     not stated" in text
    before = desk("logbook", "--json").json
    desk("aircraft", "edit", "--set", "title=Gull")
    assert desk("logbook", "--json").json == before


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("new",), "needs a short name"),
        (("new", "Big Bird"), "cannot be an aircraft's short name"),
        (("new", "releases"), "cannot be an aircraft's short name"),
        (("new", "gull", "--set", "title"), "is no KEY=VALUE"),
        (("new", "gull", "--set", "wings=2"), "wings: no such fact"),
        (("new", "gull", "--set", "mass_kg=nan"), "mass_kg: a number above 0 is wanted"),
        (("new", "gull", "--set", "motors.count=4.5"), "motors.count: a whole number"),
        (("new", "gull", "--set", "device.board.kind=x"), "the board is no fitted device"),
        (("show",), "no aircraft is described yet"),
        (("use", "gull"), "there is no aircraft 'gull'"),
        (("edit", "gull"), "nothing to change was said"),
        (("new", "--from", "nope.toml"), "no such file"),
    ],
)
def test_what_makes_no_sense_is_refused(desk, words, says):
    refused = desk("aircraft", *words, code=1)
    assert says in refused.err
    assert desk("aircraft", "list", "--json").json["aircraft"] == []


def test_the_current_aircraft(desk):
    desk("aircraft", "new", "gull", "--set", "title=Gull")
    desk("aircraft", "new", "tern", "--set", "title=Tern")
    assert desk("aircraft", "show", "--json").json["id"] == "tern"
    desk("aircraft", "use", "gull")
    assert desk("aircraft", "show", "--json").json["id"] == "gull"
    assert "gull *" in desk("aircraft", "list").out


def test_a_store_that_cannot_be_used_is_code_7(desk):
    place = desk.folder / "file"
    place.write_text("no folder")
    refused = desk("aircraft", "list", code=7, store=place)
    assert refused.err.startswith("asflown: ")
    assert "next: " in refused.err
    broken = desk.folder / "broken"
    desk("aircraft", "list", store=broken)
    for path in broken.iterdir():
        if path.is_file():
            path.write_bytes(b"this is no database" * 100)
    assert desk("aircraft", "list", code=None, store=broken).code in (6, 7)


def test_the_store_can_be_named_by_the_environment(desk, monkeypatch, capsys):
    from asflown.faces.cli.main import main

    monkeypatch.setenv("ASFLOWN_STORE", str(desk.folder / "by-environment"))
    assert main(["aircraft", "new", "gull", "--set", "title=Gull"]) == 0
    assert (desk.folder / "by-environment").is_dir()
    capsys.readouterr()
