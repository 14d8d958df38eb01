"""The job on the worked example's releases and listings, through the command line."""

from __future__ import annotations

import pytest

from asflown.demo import releases, scenario
from asflown.demo.firmware import changes as names


@pytest.fixture
def shore(desk):
    for id, files in {**releases.folders(), **releases.bare_folders()}.items():
        for path, data in files.items():
            desk.write(f"{id}/{path}", data)
        desk("release", "add", str(desk.folder / id))
    for craft in scenario.CRAFTS:
        desk("aircraft", "new", "--from", desk.write(f"{craft.id}.toml", craft.text))
    desk("aircraft", "use", "plover")
    return desk


def found(desk, craft="plover", *words, changes_only=False):
    data = scenario.found_listing(craft, changes_only=changes_only)
    return desk("found", desk.write(f"{craft}.txt", data), "--aircraft", craft, *words, "--json").json


def decided(desk, *words):
    """The plan after every open group got its recommended choice, or its first one."""
    for _ in range(40):
        body = desk("decide", *words, "--json", code=None).json
        if not body["groups"]:
            return desk("plan", *words, "--json", code=None).json
        group = body["groups"][0]
        lines = [one for one in body["lines"] if one["id"] in group["lines"]]
        if group["options"] == ["value"]:
            values = [f"{line['id']}=1" for line in lines]
            desk("decide", *words, group["id"], "--value", *values, "--why", "checked", code=None)
            continue
        choice = next(option for option in group["options"] if option != "value")
        desk("decide", *words, group["id"], "--choose", choice, "--why", "checked", code=None)
    raise AssertionError("still open")


def test_the_worked_example_asks_for_at_most_15_decisions(shore):
    assert found(shore)["found"] > 300
    plan = shore("plan", "--to", names.NEW, "--json", code=2).json
    assert plan["account"]["adds_up"]
    assert plan["is_provisional"] is False
    assert plan["route"] == [names.OLD, names.MIDDLE, names.NEW]
    assert plan["decisions_asked"] == len(plan["groups"]) <= 15
    assert {line["disposition"] for line in plan["lines"]} >= {
        "keep",
        "rename",
        "convert",
        "split",
        "merge",
        "retire",
        "adopt",
        "redo",
        "decide",
    }
    done = decided(shore)
    assert (done["state"], done["decisions_asked"]) == ("decided", 0)
    assert done["account"]["adds_up"]
    assert done["account"]["to_decide"] == done["account"]["new_to_decide"] == 0
    assert shore("verify", "--json").json["holds"]


def test_a_changes_only_listing_gives_the_same_plan(shore):
    full = found(shore)
    by_full = shore("plan", "--to", names.NEW, "--json", code=2).json
    shore("not-now", "--why", "compare both kinds of listing")
    changes = found(shore, changes_only=True)
    assert (full["extent"], changes["extent"]) == ("full", "changes-only")
    assert changes["found"] < full["found"]
    by_changes = shore("plan", "--to", names.NEW, "--json", code=2).json
    assert by_changes["account"]["implied"] == full["found"] - changes["found"]
    for column in ("found", "kept", "converted", "gone", "redo", "to_decide", "new", "new_to_decide"):
        assert by_changes["account"][column] == by_full["account"][column], column
    said = {line["id"]: (line["disposition"], line["to_be_left"]) for line in by_full["lines"]}
    assert {line["id"]: (line["disposition"], line["to_be_left"]) for line in by_changes["lines"]} == said


def test_two_bare_listings_write_nothing_that_was_only_inferred(shore):
    old, new = (id for id in releases.bare_folders())
    found(shore, "plover", "--release", old)
    plan = shore("plan", "--to", new, "--json", code=2).json
    assert plan["account"]["adds_up"]
    assert plan["is_provisional"]
    assert all(line["basis"] != "inferred" or line["disposition"] == "decide" for line in plan["lines"])
    assert len(plan["groups"]) < plan["account"]["to_decide"] / 3


def test_a_new_board_asks_for_its_wiring(shore):
    found(shore)
    plan = shore("plan", "--new-board", "sandbar-3", "--json", code=2).json
    assert plan["account"]["adds_up"]
    assert {group["cause"] for group in plan["groups"]} == {"wiring of the other board"}
    assert plan["account"]["redo"] > 0


def test_a_sister_keeps_what_is_its_own(shore):
    found(shore)
    found(shore, "dunlin")
    plan = shore("plan", "dunlin", "--like", "plover", "--json", code=None).json
    assert plan["account"]["adds_up"]
    assert plan["purpose"] == "sister aircraft"
    own = [line for line in plan["lines"] if line["basis"] == "belonging"]
    assert own


def test_a_release_nobody_knows_is_planned_from_the_boards_own_listing(shore):
    """No catalog, no notes, no listing: refused with the ways; the fresh factory listing makes a final plan."""
    found(shore)
    shore("plan", "--to", "marram-9.9", code=2)
    fresh = shore.write("fresh.txt", scenario.bench_listing())
    taken = shore("found", fresh, "--factory", "--release", "marram-9.9", "--json").json
    assert (taken["release"], taken["moment"], taken["extent"]) == ("marram-9.9", "factory", "full")
    final = shore("plan", "--to", "marram-9.9", "--json", code=2).json
    assert final["is_provisional"] is False
    assert final["account"]["adds_up"]
