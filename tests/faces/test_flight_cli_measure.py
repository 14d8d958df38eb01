"""``asflown flight look`` and ``measure`` at the command line: what they print, and their exit codes."""

from __future__ import annotations

import json

import jsonschema
import pytest

from asflown.app.views.flight_json import evidence_schema
from asflown.demo.flight import plover_log
from asflown.faces.cli import console, flight_measure

SIX = ("bandwidth", "phase_delay", "crossover", "gain_margin", "phase_margin", "peak_sensitivity")
UNCLEAR = "a,b,c\n" + "\n".join(f"{i},{i % 7},{i % 5}" for i in range(500)) + "\n"


@pytest.fixture(scope="session")
def plover() -> bytes:
    return plover_log(seed=5, seconds=24.0, on_ground=6.0)


@pytest.fixture
def log(desk, plover):
    return desk.write("flight.csv", plover)


def test_look_shows_the_columns_the_time_and_what_next(desk, log):
    out = desk("flight", "look", log).out
    assert "30,000 rows in 30.0 s at 1,000 a second" in out
    assert "rate.roll" in out
    assert "gyro roll" in out
    assert "no question open" in out
    assert f"next: measure it: asflown flight measure {log}" in " ".join(out.split())
    body = desk("flight", "look", log, "--json").json
    assert body["log"]["rows"] == 30_000
    assert body["log"]["rate"] == pytest.approx(1000)
    assert body["log"]["layout"]["doubts"] == []
    assert "rate.yaw" in body["flight"]
    assert body["conditions"]["pilot"] == "Tobias Wendt"


def test_measure_prints_one_document_that_fits_its_schema(desk, log):
    body = desk("flight", "measure", log, "--json").json
    jsonschema.validate(body, evidence_schema(), jsonschema.Draft202012Validator)
    assert body["measured"] > 10
    for axis in ("roll", "pitch", "yaw"):
        for name in SIX:
            one = body["axes"][axis][name]
            assert ("reason" in one) != ("value" in one)
            assert one["source"] == body["log"]["sha256"]
            assert one["method"] in body["methods"]
    counted = [one for one in numbers(body) if "value" in one]
    assert len(counted) == body["measured"]
    assert all(one["low"] <= one["value"] <= one["high"] for one in counted)
    assert len(list(numbers(body))) == body["measured"] + body["not_measured"]


def numbers(tree):
    if isinstance(tree, dict):
        if "method" in tree and ("value" in tree or "reason" in tree):
            yield tree
        else:
            for part in tree.values():
                yield from numbers(part)


def test_the_sheet_says_the_same_numbers_in_words(desk, log):
    body = desk("flight", "measure", log, "--json").json
    out = desk("flight", "measure", log).out
    assert f"{body['measured']} figures measured of 30.0 s" in out
    assert "Vibration" in out
    assert "Conditions not stated: propellers, altitude, day" in out
    plain = desk("flight", "measure", log, "--plain").out
    assert plain.isascii()


def test_a_stretch_is_used_alone(desk, log):
    body = desk("flight", "measure", log, "--from", "10", "--to", "25", "--json").json
    assert body["span"] == [10.0, 25.0]
    spans = [one["span"] for one in numbers(body) if one["span"]]
    assert spans
    assert all(10.0 <= start < end <= 25.01 for start, end in spans)
    assert "is empty" in desk("flight", "measure", log, "--from", "99", "--to", "120", code=1).err


def test_open_questions_end_in_code_2_with_the_words_that_settle_them(desk):
    log = desk.write("unclear.csv", UNCLEAR)
    error = desk("flight", "measure", log, "--json", code=2).error
    assert error["kind"] == "NeedsPerson"
    assert "at what rate" in error["faults"][0]["what"]
    assert "--assume" in error["next"]
    assert "--accept-proposed" in error["next"]


def test_nothing_to_measure_is_code_3_with_reasons(desk):
    header = "time (s),pack voltage (V)\n"
    log = desk.write(
        "ground.csv", header + "".join(f"{i / 1000},{16.8 + i % 3 / 100}\n" for i in range(3000))
    )
    ran = desk("flight", "measure", log, "--json", code=3)
    assert ran.json["measured"] == 0
    assert all(one["reason"] for one in numbers(ran.json))
    assert "Nothing could be measured" in desk("flight", "measure", log, code=3).out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("flight", "measure", "no-such-file.csv"), "check the name"),
        (("flight", "look", "."), "log file in it"),
        (("flight", "measure", "{log}", "--assume", "rate"), "is no SIGNAL=UNIT"),
        (("flight", "measure", "{log}", "--assume", "rate=bananas"), "possible"),
        (("flight", "measure", "{log}", "--wind", "strong"), "--wind"),
        (("flight", "measure", "{log}", "--layout", "{log}"), "next:"),
        (("flight", "measure", "{log}", "--keep"), "--aircraft"),
        (("flight", "measure", "{log}", "--aircraft", "nobody"), "nobody"),
    ],
)
def test_bad_input_is_code_1_with_a_next_step(desk, log, words, says):
    ran = desk(*(word.format(log=log) for word in words), code=1)
    assert says in ran.err
    assert "next:" in ran.err


def test_conditions_are_kept_with_what_was_measured(desk, log):
    said = ("--propellers", "black 5 inch", "--wind", "18 km/h", "--day", "2026-03-07")
    body = desk("flight", "measure", log, *said, "--json").json
    assert body["conditions"]["wind_mps"] == pytest.approx(5.0)
    assert body["conditions"]["origins"]["wind_mps"] == "said"
    assert body["conditions"]["not_stated"] == ["altitude_m"]


def test_the_layout_goes_to_a_file_and_comes_back(desk, log):
    place = str(desk.folder / "layout.toml")
    first = desk("flight", "measure", log, "--save-layout", place, "--json").json
    again = desk("flight", "measure", log, "--layout", place, "--json").json
    assert again["log"]["layout"]["known_by"] == "layout file"
    assert again["axes"] == first["axes"]
    assert again["vibration"] == first["vibration"]


@pytest.fixture
def terminal(monkeypatch):
    """A person at the terminal who gives these answers."""

    def sit(*answers: str) -> None:
        waiting = list(answers)

        def ask(_: str) -> str:
            if not waiting:
                raise EOFError
            return waiting.pop(0)

        monkeypatch.setattr(console, "is_terminal", lambda: True)
        monkeypatch.setattr(console, "ask", ask)
        import asflown.faces.cli.flight_ask as module

        monkeypatch.setattr(module, "ask", ask)

    return sit


def test_at_a_terminal_it_asks_once_and_remembers(desk, log, terminal):
    terminal("y")
    assert "is every column" not in desk("flight", "measure", log).err
    listed = desk("flight", "layout", "show", "--json").json["layouts"]
    assert len(listed) == 1
    assert listed[0]["confirmed"]
    terminal()  # nobody would answer
    body = desk("flight", "measure", log, "--json").json
    assert body["log"]["layout"]["known_by"] == "remembered"
    assert "as a person confirmed it before" in desk("flight", "measure", log).out
    mark = listed[0]["fingerprint"]
    place = str(desk.folder / "kept.toml")
    assert place in desk("flight", "layout", "save", mark[:6], place).out
    assert "rate.roll" in desk("flight", "layout", "show", mark).out
    desk("flight", "layout", "forget", mark)
    assert desk("flight", "layout", "show", "--json").json["layouts"] == []
    assert desk("flight", "measure", log, "--json").json["log"]["layout"]["known_by"] == "proposed"


@pytest.mark.parametrize("answers", [("n",), ()])
def test_a_layout_that_is_not_confirmed_is_not_remembered(desk, log, terminal, answers):
    terminal(*answers)
    assert "next:" in desk("flight", "measure", log, code=2).err
    assert desk("flight", "layout", "show", "--json").json["layouts"] == []


def test_a_question_is_answered_at_the_terminal(desk, terminal):
    log = desk.write("unclear.csv", UNCLEAR)
    terminal("9", "2", "y")
    desk("flight", "measure", log, code=3)
    layout = desk("flight", "layout", "show", "--json").json["layouts"][0]
    time = next(one for one in layout["assignments"] if one["signal"] == "time")
    assert time["factor"] == pytest.approx(1 / 500)


def test_json_never_asks(desk, log, terminal):
    terminal()
    assert desk("flight", "measure", log, "--json").json["measured"] > 0


def test_standard_input_is_a_log_too(desk, plover, monkeypatch):
    import io
    import sys

    class Pipe:
        buffer = io.BytesIO(plover)

        def isatty(self) -> bool:
            return False

    monkeypatch.setattr(sys, "stdin", Pipe())
    assert desk("flight", "look", "-", "--json").json["log"]["rows"] == 30_000


def test_settled_is_the_one_place_that_asks():
    assert flight_measure.settled.__doc__
    assert json.dumps(evidence_schema())
