"""``asflown behaviour``: exit codes, what is said where nothing is declared, records and plans compared."""

from __future__ import annotations

import pytest

#: One thing said by two releases in other names, units, numbers and choice numbers.
SAND_1 = """\
name,type,units,min,max,default,choices,plain,role,consequence,description
quiet.time,int,0.1s,1,100,10,,,radio_loss.delay,safety,time without radio before it acts
quiet.does,choice,,,,0,0=land|1=come home|2=stop the motors,,radio_loss.action,safety,what it does then
low.pack,int,0.1V,60,300,140,,,pack.warning_voltage,safety,pack voltage that warns
cells,int,,1,8,4,,,pack.cells,safety,cells in series
full.turn,int,deg/s,10,900,300,,,stick.full,handling,rate at full stick
bend,int,%,0,100,30,,,stick.bend,handling,share of the cubic
"""
SAND_2 = """\
name,type,units,min,max,default,choices,plain,role,consequence,description
quiet.wait,int,ms,10,10000,1000,,,radio_loss.delay,safety,time without radio before it acts
quiet.act,choice,,,,0,0=stop the motors|1=land|2=come home,,radio_loss.action,safety,what it does then
low.cell,float,V,2,5,3.5,,,pack.cell_warning_voltage,safety,cell voltage that warns
count,int,,1,8,4,,,pack.cells,safety,cells in series
turn.end,int,deg/s,10,900,300,,,stick.full,handling,rate at full stick
turn.middle,int,deg/s,10,900,210,,,stick.middle,handling,rate for each unit of stick in the middle
"""
EXPO = '[[stick]]\nform = "expo"\nroles = { full_rate = "stick.full", expo = "stick.bend" }\n'
CUBIC = '[[stick]]\nform = "cubic"\nroles = { full_rate = "stick.full", centre_rate = "stick.middle" }\n'
NOTES = """\
from = "sand-1.0"
to = "sand-2.0"
[[change]]
kind = "convert"
old = "quiet.time"
new = "quiet.wait"
unit = {from = "0.1s", to = "ms"}
[[change]]
kind = "rename"
old = "cells"
new = "count"
[[change]]
kind = "rename"
old = "full.turn"
new = "turn.end"
"""
FOUND = "quiet.time = 15\nquiet.does = 1\nlow.pack = 140\ncells = 4\nfull.turn = 300\nbend = 30\n"
#: The same in the other release: 300 (1 - 0.3) = 210 deg/s in the middle.
ALIKE = "quiet.wait = 1500\nquiet.act = 2\nlow.cell = 3.5\ncount = 4\nturn.end = 300\nturn.middle = 210\n"


@pytest.fixture
def gull(desk):
    """An aircraft found under one release, and read under the other."""
    desk.release("sand-1.0", catalog_csv=SAND_1, control_toml=EXPO)
    desk.release("sand-2.0", catalog_csv=SAND_2, control_toml=CUBIC, notes_toml=NOTES)
    desk("aircraft", "new", "gull", "--set", "title=Gull", "board=brant-h7", "release=sand-1.0")
    desk("found", desk.write("found.txt", FOUND), "--aircraft", "gull")
    desk("found", desk.write("alike.txt", ALIKE), "--aircraft", "gull", "--release", "sand-2.0")
    return desk


def left(desk, text: str) -> str:
    """Keep another listing of the new release; its record."""
    words = ("--aircraft", "gull", "--release", "sand-2.0", "--json")
    return str(desk("found", desk.write("other.txt", text), *words).json["id"])


def test_without_a_declared_structure_it_says_what_is_missing(desk):
    desk.ready()
    out = desk("behaviour", "show", "plover", code=3).out
    assert "Not known: the controllers of the turning rates." in out
    assert "Not known: what the stick asks for." in out
    assert "Stated on radio, arming and battery: nothing." in " ".join(out.split())
    assert "control.toml" in out
    body = desk("behaviour", "compare", "plover", "plover", "--json", code=3).json
    assert (body["axes"], body["stick"], body["same"]) == ({}, {}, False)
    assert set(body["reasons"]) == set(body["stick_reasons"]) == {"roll", "pitch", "yaw"}
    assert {one["outcome"] for one in body["statements"]} == {"not stated"}


def test_a_record_that_is_not_there_is_refused(desk):
    desk.plover()
    assert "neither a record nor an aircraft" in desk("behaviour", "show", "wren-001", code=1).err


def test_the_same_in_another_release_is_the_same(gull):
    body = gull("behaviour", "compare", "gull-001", "gull-002", "--json", code=4).json
    outcomes = {one["role"]: one["outcome"] for one in body["statements"] if one["outcome"] != "not stated"}
    same = ("radio_loss.delay", "radio_loss.action", "pack.cell_warning_voltage", "pack.cells")
    assert outcomes == dict.fromkeys(same, "same")
    assert all(abs(one["largest"]) < 1e-9 for one in body["stick"].values())
    assert set(body["reasons"]) == {
        "roll",
        "pitch",
        "yaw",
    }  # nobody declares the controllers: not called same
    sheet = gull("behaviour", "compare", "gull-001", "gull-002", code=4).out
    assert "all 4 as before" in sheet
    assert "3.5 V (14 V over 4 cells), now 3.5 V" in sheet


def test_what_changes_is_told_before_and_after(gull):
    other = left(gull, ALIKE.replace("1500", "15").replace("act = 2", "act = 1").replace("210", "300"))
    out = gull("behaviour", "compare", "gull-001", other, code=4).out
    assert "safety   Radio lost, acts by itself after  1.5 s      0.015 s" in out
    assert "safety   Radio lost, what it does          come home  land" in out
    assert "2 settings that touch safety are not as before" in out
    # 300 x against 210 x + 90 x^3: largest at 1 / sqrt 3, where it is 90 * 2 / (3 sqrt 3) = 34.64
    assert "At 58 % stick roll asks for 34.6 deg/s more." in " ".join(out.split())
    assert out.index("Radio lost, what it does") < out.index("What the stick asks for")


def test_a_side_that_cannot_say_is_not_the_same(gull):
    other = left(gull, ALIKE.replace("quiet.act = 2", "quiet.act = 9"))
    body = gull("behaviour", "compare", "gull-002", other, "--json", code=4).json
    first = body["statements"][0]
    assert (first["role"], first["outcome"]) == ("radio_loss.action", "stated on one side only")
    assert first["after"]["reason"] == "quiet.act is 9, and the catalog does not say what that means"


def test_the_open_refit_is_a_second_side(gull):
    """Decided by the notes, or still to be decided: then no value is told, whatever the factory's is."""
    gull("found", gull.write("again.txt", FOUND + "\n"), "--aircraft", "gull", "--release", "sand-1.0")
    assert "has no open refit" in gull("behaviour", "compare", "gull", "--plan", code=1).err
    gull("plan", "gull", "--to", "sand-2.0", code=2)
    body = gull("behaviour", "compare", "gull", "--plan", "--json", code=4).json
    assert (body["first"]["record"], body["second"]["refit"]) == ("gull-003", "gull-r1")
    assert body == gull("behaviour", "compare", "gull-003", "gull-r1", "--json", code=4).json
    told = {one["role"]: one for one in body["statements"]}
    assert told["radio_loss.delay"]["outcome"] == told["pack.cells"]["outcome"] == "same"
    assert told["radio_loss.action"]["outcome"] == "stated on one side only"
    assert told["radio_loss.action"]["after"]["reason"] == "still to decide: quiet.act"
    assert body["stick_reasons"]["roll"].endswith("still to decide: turn.middle")
    sheet = gull("behaviour", "compare", "gull", "--plan", code=4).out
    assert "after     the plan of gull-r1, sand-2.0" in sheet
    assert "next: see how it would fly: asflown predict gull" in sheet
    assert "safety   Radio lost, what it does               come home                  to decide" in sheet
    assert "refit     the plan of gull-r1" in gull("behaviour", "show", "gull-r1").out


def test_a_side_too_many_or_too_few_is_refused(gull):
    assert "the second is missing" in gull("behaviour", "compare", "gull", code=1).err
    assert "no second is named" in gull("behaviour", "compare", "gull", "gull", "--plan", code=1).err
