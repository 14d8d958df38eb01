"""The neighbours of the job on the worked example: several releases, new board, sister, devices, not now."""

from __future__ import annotations

import pytest

from asflown.demo import releases, scenario
from asflown.demo.firmware import changes as names

#: What of plover must never come onto dunlin's board: its binding word and where it lives.
PRIVATE = ("radio.pair.word", "home.north", "home.east")


@pytest.fixture
def shore(desk):
    for id, files in releases.folders().items():
        for path, data in files.items():
            desk.write(f"{id}/{path}", data)
        desk("release", "add", str(desk.folder / id))
    for craft in (scenario.PLOVER, scenario.DUNLIN):
        desk("aircraft", "new", "--from", desk.write(f"{craft.id}.toml", craft.text))
        data = scenario.found_listing(craft.id)
        desk("found", desk.write(f"{craft.id}.txt", data), "--aircraft", craft.id)
    return desk


def words(ran):
    return " ".join(ran.out.split())


def test_each_step_of_several_releases_stays_visible(shore):
    plan = shore("plan", "plover", "--to", names.NEW, code=2)
    assert f"by way of {names.OLD} → {names.MIDDLE} → {names.NEW}" in words(plan)
    body = shore("plan", "plover", "--json", code=2).json
    steps = [step for line in body["lines"] for step in line["steps"]]
    for old, new in ((names.OLD, names.MIDDLE), (names.MIDDLE, names.NEW)):
        assert any(old in step and new in step for step in steps), (old, new, steps[:4])


def test_a_new_board_asks_for_wiring_and_keeps_the_rest(shore):
    body = shore("plan", "plover", "--to", names.OLD, "--new-board", "wrackline-3", "--json", code=2).json
    assert {group["cause"] for group in body["groups"]} == {"wiring of the other board"}
    assert body["account"]["redo"] > 0
    assert body["account"]["kept"] > 300
    out = shore("plan", "plover", code=2)
    assert "board wrackline-2 → wrackline-3" in words(out)
    assert "leave the other board aside: asflown not-now plover" in words(out)
    ended = words(shore("not-now", "plover", "--why", "the old board was mended"))
    assert "plover is not set up on board wrackline-3: the old board was mended." in ended
    assert "asflown plan plover --new-board wrackline-3" in ended
    says = shore("logbook", "plover", "--json").json["entries"][-1]["says"]
    assert says == "not set up on board wrackline-3: the old board was mended"


def test_a_sister_gets_nothing_private_and_keeps_its_own(shore):
    ran = shore("plan", "dunlin", "--like", "plover", code=None)
    assert "copied from plover, record plover-001" in words(ran)
    assert "stay behind (counted as gone); where dunlin has such a setting, it keeps its own value" in words(
        ran
    )
    assert "98 staying behind" in words(ran)
    assert "3141707" not in ran.out
    body = shore("plan", "dunlin", "--json", code=None).json
    own = {s.key.name: s.value for s in records(shore, "dunlin-001")}
    for name in PRIVATE:
        line = next(line for line in body["lines"] if line["new"] == [name])
        assert line["to_be_left"] == [own[name]], name
    shore("write-out", "dunlin", "--out", str(shore.folder / "work"))
    written = (shore.folder / "work" / f"to-write-{names.OLD}.txt").read_text()
    assert "3141707" not in written
    assert "536214870" not in written
    ended = words(shore("not-now", "dunlin", "--why", "rain", "--nothing-loaded"))
    assert "dunlin keeps its own set-up: rain." in ended


def records(desk, id):
    from asflown.core.record import Key, Setting

    body = desk("records", "show", id, "--json").json
    return [Setting(Key(s["name"], s["bank"], s["index"]), s["value"]) for s in body["settings"]]


def test_a_private_setting_stays_behind_whatever_it_belongs_to(desk):
    catalog = "name,type,default,consequence\ncall.word,int,0,none\ntilt.max,int,35,none\n"
    overlay = (
        '[parameter."call.word"]\nbelonging = "airframe"\nprivate = true\n'
        '[parameter."tilt.max"]\nbelonging = "airframe"\n'
    )
    desk.release("marl-1.0", catalog_csv=catalog, overlay_toml=overlay)
    for name, word in (("plover", "4711"), ("dunlin", "1815")):
        desk("aircraft", "new", name, "--set", f"title={name}", "board=b", "release=marl-1.0")
        listing = f"call.word = {word}\ntilt.max = {word[:2]}\n"
        desk("found", desk.write(f"{name}.txt", listing), "--aircraft", name, "--extent", "full")
    lines = desk("plan", "dunlin", "--like", "plover", "--json", code=None).json["lines"]
    left = {tuple(line["new"]): line["to_be_left"] for line in lines if line["new"]}
    assert left == {("call.word",): ["1815"], ("tilt.max",): ["47"]}


def test_a_device_has_records_and_plans_of_its_own(shore):
    old = shore.write("esc.txt", "brake = 1\ntiming = 16\nbeep = 40\n")
    new = shore.write("esc-new.txt", "brake = 1\ntiming = 18\nbeep = 40\nsoft = 2\n")
    about = ("--aircraft", "plover", "--device", "escs")
    shore("found", old, *about, "--release", "quill-1", "--extent", "full")
    shore("found", new, *about, "--factory", "--release", "quill-2")
    plan = shore("plan", "plover", "--device", "escs", "--to", "quill-2", "--json", code=None).json
    assert (plan["device"], plan["account"]["found"], plan["account"]["adds_up"]) == ("escs", 3, True)
    assert "plover, escs" in words(shore("plan", "plover", "--device", "escs", code=None))
    again = shore.write("esc2.txt", "brake = 0\ntiming = 16\nbeep = 40\n")
    body = shore("found", again, *about, "--release", "quill-1", "--extent", "full", "--json").json
    first = shore("records", "plover", "--json").json["records"][1]["id"]
    ran = shore("compare", first, body["id"], "--json", code=4).json
    assert [(d["name"], d["first"], d["second"]) for d in ran["differs"]] == [("brake", "1", "0")]


def test_not_now_keeps_the_reason_and_what_was_open(shore):
    shore("plan", "plover", "--to", names.NEW, code=2)
    ended = shore("not-now", "plover", "--why", "survey week")
    assert f"plover stays on {names.OLD}: survey week." in words(ended)
    entry = shore("logbook", "plover", "--json").json["entries"][-1]
    assert entry["says"] == f"stays on {names.OLD}: survey week (not to {names.NEW}; 12 decisions were open)"
    assert shore("decide", "plover", code=2).err.startswith("asflown: no refit is open for plover")
