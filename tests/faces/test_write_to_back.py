"""write-out, replies, readback, cards, gate, sign and back through the command line: codes, JSON, files."""

from __future__ import annotations

import pytest

from asflown.demo import releases, scenario
from asflown.demo.device import SimulatedBoard


@pytest.fixture
def bench(desk):
    """The demo's plover, decided, with its board."""
    for name, files in releases.folders().items():
        for path, data in files.items():
            desk.write(f"{name}/{path}", data)
        desk("release", "add", str(desk.folder / name))
    desk("aircraft", "new", "plover", "--from", desk.write("plover.toml", scenario.PLOVER.text))
    desk("found", desk.write("before.txt", scenario.found_listing()))
    body = desk("plan", "--to", scenario.NEW_RELEASE, "--json", code=None).json
    asked = 0
    while body["groups"]:
        group = min(body["groups"], key=lambda g: not g["id"].startswith("successor"))
        line = next(line for line in body["lines"] if line["id"] == group["lines"][0])
        usable = [o["id"] for o in line["options"] if o["id"] in group["options"] and o["id"] != "value"]
        best = [o["id"] for o in line["options"] if o["recommended"] and o["id"] in usable]
        word = (best or usable)[0]
        desk(
            "decide", "plover", group["id"], "--choose", word, "--why", "as flown so far", "--json", code=None
        )
        body = desk("plan", "--json", code=None).json
        asked += 1
    assert asked <= 15
    return desk, SimulatedBoard(scenario.OLD_RELEASE, scenario.PLOVER.differing())


def test_the_whole_way_through_the_commands(bench):
    desk, board = bench
    out = desk.folder / "out"
    desk("sign", "--name", "Ines Halloran", "--role", "keeper", code=2)
    desk("readback", desk.write("x.txt", board.listing()), code=2)
    desk("gate", "baseline-flight", "passed", "--why", "log 41 opens")
    made = desk("write-out", "--out", str(out), "--json").json
    assert made["state"] == "written out"
    assert made["files"] == sorted(path.name for path in out.iterdir())
    assert desk("write-out", "--out", str(out), "--json", code=1).error["kind"] == "InputError"
    desk("write-out", "--everything", "--changes-only", code=1)
    text = (out / "to-write-marram-5.0.txt").read_text()

    board.load_image(scenario.NEW_RELEASE)
    board.stop_after(30)
    rest = desk.folder / "rest.txt"
    said = desk("replies", desk.write("t.txt", board.paste(text)), "--rest", str(rest), "--json", code=4).json
    assert said["state"] == "partly written: do not fly"
    assert said["stopped_after"]["line"] == 30
    refused = desk("sign", "--name", "Ines Halloran", "--role", "keeper", "--json", code=2).error
    assert "do not fly" in refused["what"]
    board.save()
    board.restart()
    half = desk("readback", desk.write("half.txt", board.listing()), "--json", code=4).json
    assert half["differs"]
    assert desk("readback", str(desk.folder / "half.txt"), code=4).out.count("do not fly") >= 2
    again = desk.folder / "rest2.txt"
    assert desk("write-out", "--rest", str(again), "--json").json["settings"] == len(half["differs"])
    desk("replies", desk.write("t2.txt", board.paste(again.read_text())), "--json")
    board.save()
    board.restart()
    done = desk("readback", desk.write("after.txt", board.listing()), "--json").json
    assert (done["as_planned"], done["state"]) == (True, "read back")

    desk("cards", "mark", "motors", "pass", code=2)  # propellers-off comes first
    desk("cards", "mark", "propellers-off", "pass")
    desk("cards", "mark", "orientation", "fail", code=1)  # what was seen?
    desk("cards", "mark", "orientation", "fail", "--note", "nose up reads down", code=2)
    desk("sign", "--name", "Ines Halloran", "--role", "keeper", code=2)
    desk("cards", "mark", "orientation", "pass", "--note", "board turned")
    printed = desk("cards", "--print").out
    assert max(map(len, printed.splitlines())) <= 72
    assert desk("gate", "--json").json["gates"][0]["answer"] == "passed"
    desk("gate", "read-back", "passed", "--why", "looks fine", code=1)
    signed = desk("sign", "--name", "Ines Halloran", "--role", "keeper", "--json").json
    assert signed["statement"] == "settings proven; not bench-checked, not flown"
    assert {"gate": "trial flight", "answer": "not stated", "statement": ""} in signed["gates"]
    assert desk("verify", "--json").json["rehearsals"][0]["holds"] is True

    folder = desk.folder / "back"
    ready = desk("back", "--out", str(folder), "--json").json
    assert [step.split()[0] for step in ready["steps"][1:3]] == ["erase", "write"]
    board.load_image(scenario.OLD_RELEASE)
    board.paste((folder / "go-back-marram-4.1.txt").read_text())
    board.save()
    board.restart()
    wrong = board.listing().replace(b"motor.idle        55", b"motor.idle        35")
    assert (
        desk("back", "--readback", desk.write("wrong.txt", wrong), "--json", code=4).json["is_back"] is False
    )
    back = desk("back", "--readback", desk.write("back.txt", board.listing()), "--json").json
    assert (back["is_back"], back["state"]) == (True, "went back")
    kinds = [entry["kind"] for entry in desk("logbook", "--json").json["entries"]]
    assert kinds.count("sign-off") == 1
    assert "went back" in kinds


def test_cards_without_any_refit_are_the_standing_ones(desk):
    desk.plover()
    body = desk("cards", "--json").json
    assert body["refit"] is None
    assert body["cards"][0]["card"] == "baseline"
    desk("cards", "mark", "sticks", "pass", code=2)


@pytest.mark.parametrize("command", ["write-out", "replies", "readback", "cards", "gate", "sign", "back"])
def test_help_has_an_example(desk, command):
    from asflown.faces.cli.main import main

    assert main([command, "--help"]) == 0
    assert f"Example: asflown {command}" in desk._capsys.readouterr().out
