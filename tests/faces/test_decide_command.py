"""decide: groups, names, values, reasons; two people at once; the walk at a terminal."""

from __future__ import annotations

import json
import os
import pty
import select
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

ASFLOWN = Path(sys.executable).with_name("asflown")


@pytest.fixture
def open_desk(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    return desk


def groups(desk):
    return {g["id"]: g for g in desk("decide", "--json", code=None).json["groups"]}


def group_of(desk, setting):
    return next(g for g in groups(desk).values() if any(setting in name for name in g["settings"]))


def settle_all(desk):
    """Take the recommended choice, or the first, of every open group."""
    for _ in range(30):
        body = desk("decide", "--json", code=None).json
        if not body["groups"]:
            return
        group = body["groups"][0]
        line = next(one for one in body["lines"] if one["id"] == group["lines"][0])
        options = [o["id"] for o in line["options"] if o["id"] != "value" and o["id"] in group["options"]]
        desk("decide", group["id"], "--choose", options[0], "--why", "checked on the bench", code=None)
    raise AssertionError("still open")


def test_what_is_open_is_shown_safety_first_with_number_and_time(open_desk):
    body = open_desk("decide", "--json", code=2).json
    assert body["decisions_asked"] == len(body["groups"]) >= 3
    assert body["groups"][0]["consequence"] == "safety"
    assert body["seconds"] == sum(20 + 5 * len(g["lines"]) for g in body["groups"])
    text = open_desk("decide", code=2).out
    assert f"{len(body['groups'])} decisions about" in text
    assert "min" in text


def test_a_group_is_shown_with_every_choice_in_words(open_desk):
    group = group_of(open_desk, "lost.do")
    text = " ".join(open_desk("decide", group["id"], code=2).out.split())
    assert "climb and hold" in text
    assert "lost.do" in text
    assert "--choose" in text


def test_a_decision_is_kept_with_its_reason(open_desk):
    group = group_of(open_desk, "idle.speed")
    before = groups(open_desk)
    open_desk("decide", group["id"], "--choose", "keep", "--why", "idles well", code=2)
    assert group["id"] not in groups(open_desk)
    assert set(groups(open_desk)) == set(before) - {group["id"]}
    plan = open_desk("plan", "--json", code=2).json
    line = next(one for one in plan["lines"] if one["old"] == ["idle.speed"])
    assert line["to_be_left"] == ["0.05"]
    assert line["settled"]["reason"] == "idles well"
    assert line["settled"]["who"] == "ines"
    entry = next(e for e in open_desk("logbook", "--json").json["entries"] if e["kind"] == "decision")
    assert entry["body"]["reason"] == "idles well"
    assert entry["body"]["group"] == group["id"]


def test_everything_decided_ends_in_code_0(open_desk):
    settle_all(open_desk)
    assert "Nothing is open" in open_desk("decide").out
    plan = open_desk("plan", "--json").json
    assert plan["state"] == "decided"
    assert plan["account"]["to_decide"] == plan["account"]["new_to_decide"] == 0
    assert plan["account"]["adds_up"]
    assert "write-out" in plan["next"][0]
    undone = open_desk("decide", "--undo", "--why", "on second thought", "--json", code=2).json
    assert undone["state"] == "planning"
    assert len(undone["groups"]) == 1
    entries = [e["body"] for e in open_desk("logbook", "--json").json["entries"] if e["kind"] == "decision"]
    assert entries[-1]["undone"]["option"]
    assert entries[-1]["why"] == "on second thought"


def test_a_typed_value_is_checked_against_the_new_range(open_desk):
    group = group_of(open_desk, "tilt.max")["id"]
    refused = open_desk("decide", group, "--value", "tilt.max=47", "--why", "x", code=1).err
    assert "tilt.max" in refused
    assert "45" in refused
    assert "no value typed" in open_desk("decide", group, "--choose", "value", "--why", "x", code=1).err
    open_desk("decide", group, "--value", "tilt.max=44", "--why", "as flown", code=2)
    plan = open_desk("plan", "--json", code=2).json
    assert next(one for one in plan["lines"] if one["old"] == ["tilt.max"])["to_be_left"] == ["44"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("nope", "--choose", "keep", "--why", "x"), "no open group is called 'nope'"),
        (("{group}", "--choose", "nope", "--why", "x"), "'nope' is not offered for idle.speed"),
        (("{group}", "--choose", "keep"), "say why"),
        (("{group}", "--choose", "keep", "--why", "  "), "say why"),
        (("{group}", "--choose", "keep", "--why", "x", "--only", "tilt.max"), "not in group"),
        (("{group}", "--choose", "keep", "--why", "x", "--except", "idle.speed"), "nothing of group"),
        (("{group}", "--choose", "keep", "--value", "idle.speed=1", "--why", "x"), "--value goes with"),
        (("{group}", "--value", "idle.speed", "--why", "x"), "is no NAME=VALUE"),
        (("--choose", "keep", "--why", "x"), "which group?"),
        (("--choose", "keep", "--undo", "--why", "x"), "four acts"),
        (("--undo", "--why", "x"), "no decision to take back"),
        (("--adopt-factory",), "say why"),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_is_kept(open_desk, words, says):
    group = group_of(open_desk, "idle.speed")["id"]
    before = open_desk("logbook", "--json").json
    refused = open_desk("decide", *(word.format(group=group) for word in words), code=1)
    assert says in refused.err
    assert open_desk("logbook", "--json").json == before


def test_adopting_factory_values_is_one_act(open_desk):
    body = open_desk("decide", "--adopt-factory", "--why", "read the notes", "--json", code=2).json
    left = {name for g in body["groups"] for name in g["settings"]}
    assert "idle.speed" not in left
    assert "brake.hold" not in left
    assert any("lost.do" in name for name in left)
    plan = open_desk("plan", "--json", code=2).json
    lines = {(one["old"] or one["new"])[0]: one for one in plan["lines"]}
    assert lines["idle.speed"]["to_be_left"] == ["0.07"]
    assert lines["brake.hold"]["to_be_left"] == ["2"]
    assert "nothing open is about" in open_desk("decide", "--adopt-factory", "--why", "x", code=1).err


def test_without_a_refit_there_is_nothing_to_decide(desk):
    desk.ready()
    assert "no refit is open" in desk("decide", code=2).err


def program(desk, *words):
    env = {**os.environ, "ASFLOWN_STORE": str(desk.store), "COLUMNS": "100"}
    return subprocess.run([ASFLOWN, *words], capture_output=True, text=True, check=False, env=env)


def test_two_people_deciding_at_once_lose_nothing(open_desk):
    chosen = {
        group_of(open_desk, "idle.speed")["id"]: "keep",
        group_of(open_desk, "brake.hold")["id"]: "factory",
        group_of(open_desk, "tilt.max")["id"]: "nearest",
    }
    with ThreadPoolExecutor(3) as pool:
        ran = list(
            pool.map(
                lambda one: program(
                    open_desk, "decide", one[0], "--choose", one[1], "--why", f"because {one[0]}"
                ),
                chosen.items(),
            )
        )
    assert [done.returncode for done in ran] == [2, 2, 2], [done.stderr for done in ran]
    assert not set(chosen) & set(groups(open_desk))
    kept = [
        e["body"]["group"] for e in open_desk("logbook", "--json").json["entries"] if e["kind"] == "decision"
    ]
    assert sorted(kept) == sorted(chosen)
    assert open_desk("verify", "--json").json["holds"]


def test_a_pipe_is_never_asked(open_desk):
    done = program(open_desk, "decide")
    assert done.returncode == 2
    assert "stop: end" not in done.stdout
    assert "\x1b" not in done.stdout


def at_a_terminal(desk, answers, *words):
    """Run the program on a pseudo-terminal and type an answer at each question."""
    leader, follower = pty.openpty()
    env = {**os.environ, "ASFLOWN_STORE": str(desk.store), "COLUMNS": "100", "TERM": "xterm", "NO_COLOR": "1"}
    child = subprocess.Popen([ASFLOWN, *words], stdin=follower, stdout=follower, stderr=follower, env=env)
    os.close(follower)
    data, answered, until = b"", 0, time.monotonic() + 30
    while time.monotonic() < until:
        if not select.select([leader], [], [], 0.1)[0]:
            if child.poll() is not None:
                break
            continue
        try:
            data += os.read(leader, 65536)
        except OSError:
            break
        if answered < len(answers) and data.endswith(answers[answered][0].encode()):
            os.write(leader, (answers[answered][1] + "\n").encode())
            answered += 1
    os.close(leader)
    return child.wait(timeout=10), data.decode(), answered


def test_at_a_terminal_it_asks_one_after_the_other(open_desk):
    first = open_desk("decide", "--json", code=2).json["groups"]
    answers = [
        ("leave open, stop: end): ", ""),  # leaves the first one open
        ("leave open, stop: end): ", first[1]["options"][0]),
        ("why: ", "checked"),
        ("leave open, stop: end): ", "stop"),
    ]
    code, text, answered = at_a_terminal(open_desk, answers, "decide")
    assert answered == 4, text
    assert code == 2
    left = list(groups(open_desk))
    assert first[0]["id"] in left
    assert first[1]["id"] not in left


def test_aircraft_new_asks_at_a_terminal(desk):
    answers = [("e.g. plover: ", "gull"), ("what it is called (empty: not stated): ", "Gull")]
    answers += [("(empty: not stated): ", "")] * 6
    code, text, answered = at_a_terminal(desk, answers, "aircraft", "new")
    assert (code, answered) == (0, 8), text
    body = desk("aircraft", "show", "--json").json
    assert (body["id"], body["title"], body["board"]) == ("gull", "Gull", None)


def test_json_is_never_a_walk(open_desk):
    code, text, _ = at_a_terminal(open_desk, [], "decide", "--json")
    assert code == 2
    assert json.loads(text)["groups"]
