"""decide --as-before and notes from-decisions, as a person types them."""

from __future__ import annotations

import tomllib

import pytest


@pytest.fixture
def two(desk):
    """Two aircraft planned; the first one decided by the choice that is offered first."""
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    name = desk("aircraft", "list", "--json").json["aircraft"][0]["id"]
    for group in desk("decide", name, "--json", code=2).json["groups"]:
        option = next(word for word in group["options"] if word != "value")
        words = ("decide", name, group["id"], "--choose", option, "--why", "as flown")
        desk(*words, "--who", "R. Anley", code=None)
    desk("aircraft", "new", "second", "--set", "title=Second", "release=marl-1.0")
    return desk, name


def plan_second(two):
    desk, first = two
    record = desk("records", "list", first, "--json").json["records"][0]["id"]
    shown = desk("records", "show", record, "--json").json
    lines = "".join(f"{one['name']} = {one['value']}\n" for one in shown["settings"])
    path = desk.folder / "second.txt"
    path.write_text(lines, "utf-8")
    desk("found", str(path), "--aircraft", "second", "--extent", "full")
    return desk("plan", "second", "--to", "marl-2.0", code=2)


def test_the_plan_counts_the_group_names_and_one_command_takes_what_is_clear(two):
    desk, first = two
    assert f"decided before, for {first}" in " ".join(plan_second(two).out.split())
    body = desk("decide", "second", "--json", code=2).json
    assert all(group["as_before"] for group in body["groups"])
    assert all(
        "R. Anley" in group["before"] or "decided before" in group["before"] for group in body["groups"]
    )
    safe = {g["id"] for g in body["groups"] if g["consequence"] not in ("safety", "unknown")}
    assert safe, "something can be taken at once"
    assert len(safe) < len(body["groups"]), "and something cannot"
    done = desk("decide", "second", "--as-before", "built alike", "--json", code=2).json
    assert set(done["settled"]) == safe
    assert {one["group"] for one in done["left_open"]} == {g["id"] for g in body["groups"]} - safe
    assert all("touches safety" in one["why"] for one in done["left_open"])
    left = desk("decide", "second", "--as-before", "again", code=1)
    assert "nothing open can be settled as before all at once" in left.err
    for group in done["left_open"]:
        text = " ".join(desk("decide", "second", group["group"], code=2).out.split())
        assert f"decided so for {first} on " in text
        assert "by R. Anley: as flown" in text
        desk("decide", "second", group["group"], "--as-before", "seen on the bench", code=None)
    assert desk("decide", "second", "--json", code=0).json["groups"] == []


def test_as_before_is_an_act_of_its_own(two):
    plan_second(two)
    refused = two[0]("decide", "second", "--as-before", "why", "--undo", code=1)
    assert "four acts" in refused.err
    assert "say why" in two[0]("decide", "second", "--as-before", " ", code=1).err


def test_decisions_as_change_notes(two):
    desk, first = two
    path = desk.folder / "made.toml"
    made = desk("notes", "from-decisions", first, "--out", str(path), "--json")
    assert tomllib.loads(path.read_text("utf-8"))["from"] == "marl-1.0"
    assert {one["kind"] for one in made.json["changes"]} <= {"rename", "convert", "retire"}
    assert "Anley" not in path.read_text("utf-8")
    refused = desk("notes", "from-decisions", first, "--refit", "no-r7", code=1)
    assert "no refit 'no-r7'" in refused.err
