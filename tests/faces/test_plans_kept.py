"""A plan document is kept when a plan is asked for and when a listing is written out, never for a decision."""

from __future__ import annotations

import json
import sqlite3


def plans(desk):
    with sqlite3.connect(desk.store / "asflown.db") as connection:
        rows = connection.execute("SELECT id, revision, body FROM document WHERE kind = 'plan'").fetchall()
    return [(id, revision, json.loads(body)) for id, revision, body in sorted(rows, key=lambda row: row[:2])]


def settle_all(desk):
    made = desk("decide", "--json", code=2).json
    number = 0
    while made["groups"]:
        group = made["groups"][0]
        option = next(o for o in group["options"] if o != "value")
        made = desk("decide", group["id"], "--choose", option, "--why", "seen", "--json", code=None).json
        number += 1
    return made, number


def test_decisions_keep_digests_alone(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    made, number = settle_all(desk)
    assert number > 2
    assert [(id, revision) for id, revision, _ in plans(desk)] == [("plover-r1-final", 1)]
    decisions = [e for e in desk("logbook", "--json").json["entries"] if e["kind"] == "decision"]
    assert len(decisions) == number
    assert decisions[-1]["body"]["plan"] == made["digest"]
    assert [e["body"]["open"] for e in decisions] == list(range(number - 1, -1, -1))
    again = desk("plan", "--json").json
    assert again["digest"] == made["digest"]
    assert again["sheet"] > 0
    assert len(plans(desk)) == 1
    entry = desk("logbook", "--json").json["entries"][-1]
    assert (entry["kind"], entry["body"]["digest"]) == ("plan", made["digest"])
    assert desk("plan", "--json").json["sheet"] == again["sheet"]  # the same again is kept once


def test_write_out_keeps_the_plan_it_writes_from(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    made, _ = settle_all(desk)
    desk("write-out", "--out", str(desk.folder / "out"))
    id, revision, body = plans(desk)[-1]
    assert (id, revision) == ("plover-r1-written", 1)
    assert all(line["disposition"] != "decide" for line in body["body"]["lines"])
    entry = next(e for e in desk("logbook", "--json").json["entries"] if e["kind"] == "write-out")
    assert entry["body"]["plan"] == made["digest"]
    assert desk("verify").code == 0
    with sqlite3.connect(desk.store / "asflown.db") as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("DELETE FROM document WHERE id = 'plover-r1-written'")
    assert "names plan plover-r1-written" in " ".join(desk("verify", code=6).out.split())


def test_a_decision_taken_back_opens_its_lines_again(desk):
    desk.ready()
    first = desk("plan", "--to", "marl-2.0", "--json", code=2).json
    group = first["groups"][0]
    option = next(o for o in group["options"] if o != "value")
    desk("decide", group["id"], "--choose", option, "--why", "seen", code=None)
    back = desk("decide", "--undo", "--why", "wrong one", "--json", code=2).json
    assert back["digest"] == first["digest"]
    assert [g["id"] for g in back["groups"]] == [g["id"] for g in first["groups"]]
