"""A setting that stands more than once in a listing is never settled quietly."""

from __future__ import annotations

from desk_files import LISTING

TWICE = LISTING + "tilt.max = 42\n"


def blocking(body):
    return [finding["statement"] for finding in body["findings"] if finding["blocks"]]


def test_a_repeated_setting_blocks_the_plan_until_a_person_says_which_counts(desk):
    desk.releases()
    desk.plover()
    shown = desk.found(TWICE, code=2)
    assert "tilt.max: 50 (line 4), 42 (line 9)" in " ".join(shown.out.split())
    kept = desk("records", "show", "plover-001", "--json").json
    assert kept["repeated"] == [{"key": "tilt.max", "lines": [4, 9], "values": ["50", "42"]}]
    assert kept["repeated_said"] is None
    assert "nobody said which counts" in " ".join(desk("records", "show", "plover-001").out.split())
    plan = desk("plan", "--to", "marl-2.0", "--json", code=2).json
    assert any("tilt.max: 50 (line 4), 42 (line 9)" in text for text in blocking(plan))
    assert plan["next"][0] == "say which counts: asflown records say-repeated plover-001 last (or first)"
    desk("records", "say-repeated", "plover-001", "first")
    body = desk("records", "show", "plover-001", "--json").json
    assert {s["name"]: (s["value"], s["line"]) for s in body["settings"]}["tilt.max"] == ("50", 4)
    assert body["digest"] != kept["digest"]
    plan = desk("plan", "--json", code=2).json
    assert blocking(plan) == []
    assert any("the first counts" in finding["statement"] for finding in plan["findings"])
    entry = desk("logbook", "--json").json["entries"][-2]
    assert (entry["kind"], entry["body"]["counts"]) == ("correction", "first")
    assert "first" in entry["says"]


def test_said_with_the_listing_it_is_answered(desk):
    desk.releases()
    desk.plover()
    body = desk.found(TWICE, "--repeated", "last", "--json").json
    assert (body["repeated_said"], blocking(body)) == ("last", [])
    assert {s["name"]: s["value"] for s in body["settings"]}["tilt.max"] == "42"
    first = desk.found(TWICE, "--repeated", "first", "--json").json
    assert {s["name"]: s["value"] for s in first["settings"]}["tilt.max"] == "50"


def test_the_same_value_again_is_told_and_does_not_block(desk):
    desk.releases()
    desk.plover()
    body = desk.found(LISTING + "tilt.max = 50\n", "--json").json
    assert blocking(body) == []
    assert [f["statement"] for f in body["findings"]] == ["tilt.max: 50 (line 4), 50 (line 9)"]
    assert "1 setting stands more than once" in body["remarks"][0]


def test_saying_it_of_a_record_without_repeats_is_refused(desk):
    desk.ready()
    refused = desk("records", "say-repeated", "plover-001", "last", code=1).err
    assert "nothing stands more than once in the listing of plover-001" in refused


def test_a_repeat_in_the_new_factory_listing_blocks_too(desk):
    desk.release("marl-1.0")
    desk.plover()
    desk.found(LISTING, "--extent", "full")
    desk("found", desk.write("fresh.txt", TWICE), "--factory", "--release", "reed-7", code=2)
    plan = desk("plan", "--to", "reed-7", "--json", code=2).json
    assert any("plover-002" in act for act in plan["next"])
    assert any("42 (line 9)" in text for text in blocking(plan))


def test_a_private_setting_that_stands_twice_does_not_go_with_a_hand_over(desk):
    desk.releases()
    desk.plover()
    desk.found(TWICE + "home.lat = 536214870\nhome.lat = 536214871\n", "--repeated", "last")
    bag = desk.folder / "bag"
    desk("handover", "--out", str(bag))
    files = {path.name: path.read_bytes() for path in bag.rglob("*") if path.is_file()}
    assert not [name for name, data in files.items() if b"53621487" in data]
    elsewhere = desk.folder / "elsewhere"
    desk("receive", str(bag), store=elsewhere)
    kept = desk("records", "show", "plover-001", "--json", store=elsewhere).json
    assert [again["key"] for again in kept["repeated"]] == ["tilt.max"]
