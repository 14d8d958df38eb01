"""The second worked example from its first record to the verdict, judged by the truth (tools/flights/truth.py)."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from asflown.core.behaviour.simulate import Controller
from asflown.core.signals import AXES
from asflown.demo import tern
from asflown.demo.flight import flown
from asflown.faces.cli.main import main

Run = Callable[..., str]


@dataclass(frozen=True)
class School:
    """The school's store, and what its commands printed on the way."""

    folder: Path
    run: Run
    said: dict[str, Any]


@pytest.fixture(scope="module")
def truth(root: Path) -> ModuleType:
    sys.path.insert(0, str(root / "tools" / "flights"))
    import truth

    return truth


@pytest.fixture(scope="module")
def point(truth: ModuleType) -> Any:
    """Where the flight before was flown."""
    values = tern.values_of(tern.files()["found.txt"], tern.OLD)
    loop = tern.controller(values, tern.OLD)
    return truth.of_flight(tern.TERN, loop, flown(11, 68.0, loop, tern.TERN, 8.0))


def runner(folder: Path) -> Run:
    def run(*words: str, code: int = 0) -> str:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            got = main([*words, "--store", str(folder / "store")])
        assert got == code, f"{words}: {got}\n{out.getvalue()}\n{err.getvalue()}"
        return out.getvalue() + err.getvalue()

    return run


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> School:
    folder = tmp_path_factory.mktemp("school")
    for path, data in tern.files().items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    run = runner(folder)
    said: dict[str, Any] = {}
    for release in (tern.OLD, tern.NEW):
        run("release", "add", str(folder / "releases" / release))
    run("aircraft", "new", "--from", str(folder / "tern.toml"))
    run("found", str(folder / "found.txt"), "--aircraft", "tern", "--release", tern.OLD)
    run("predict", "tern", code=1)
    run("testcard", "tern", code=2)
    run("flight", "add", str(folder / "before.csv"), "tern", "--before", "--accept-proposed")
    run("plan", "tern", "--to", tern.NEW, code=2)
    said["held"] = run(
        "decide", "tern", "new.handling", "--choose", "factory", "--why", "as delivered", code=2
    )
    said["copy"] = json.loads(run("predict", "tern", "--json", code=2))
    said["refused"] = run("write-out", "tern", "--out", str(folder / "early"), code=2)
    said["retune"] = json.loads(run("retune", "tern", "--json"))
    run("decide", "tern", "predicted.safety", "--choose", "retuned", "--why", "keeps the old answer")
    said["plan"] = json.loads(run("plan", "tern", "--json"))
    said["then"] = json.loads(run("predict", "tern", "--json"))
    said["card"] = json.loads(run("testcard", "tern", "--json"))
    run("gate", "second-reading", "passed", "--why", "read twice")
    run("write-out", "tern", "--out", str(folder / "work"), "--everything")
    run("gate", "before-loading", "passed", "--why", "propellers off")
    run("verdict", "tern", code=2)
    run("flight", "add", str(folder / "before.csv"), "tern", "--after", code=2)
    left = (folder / "work" / f"to-write-{tern.NEW}.txt").read_bytes()
    (folder / "left.txt").write_bytes(left)
    run("readback", str(folder / "left.txt"))
    shutil.copytree(folder / "store", folder / "kept")
    return School(folder, run, {**said, "left": left, "before_flights": folder / "kept"})


def naive() -> Controller:
    """Copied number for number, the new setting as delivered."""
    return tern.controller(tern.values_of(tern.files()["found.txt"], tern.NEW), tern.NEW)


def old() -> Controller:
    return tern.controller(tern.values_of(tern.files()["found.txt"], tern.OLD), tern.OLD)


@pytest.fixture
def elsewhere(school: School, tmp_path: Path) -> School:
    """The same store as it was before any flight after."""
    shutil.copytree(school.said["before_flights"], tmp_path / "store")
    return School(tmp_path, runner(tmp_path), school.said)


def add_flight(school: School, listing: bytes, seed: int) -> None:
    path = school.folder / f"flown-{seed}.csv"
    path.write_bytes(tern.flight_log(listing, tern.NEW, seed))
    school.run("flight", "add", str(path), "tern", "--after", "--accept-proposed")


def test_the_copy_is_unstable_and_said_to_be(school: School, truth: ModuleType, point: Any) -> None:
    assert not truth.is_stable(tern.TERN, naive(), point)
    assert truth.is_stable(tern.TERN, old(), point)
    axes = school.said["copy"]["axes"]
    assert axes["roll"]["after"]["stability"] == axes["pitch"]["after"]["stability"] == "unstable"
    assert axes["yaw"]["after"]["stability"] == "stable"
    assert {one["axis"] for one in school.said["copy"]["concerns"]} >= {"roll", "pitch"}


def test_nothing_is_written_while_the_prediction_waits(school: School) -> None:
    assert "predicted.safety" in school.said["held"]
    assert "lapsed" not in school.said["held"]
    held = {one["setting"] for one in school.said["retune"]["settings"]}
    assert {"turn.roll.answer", "still.again"} <= held
    assert "predicted.safety" in school.said["refused"] or "decide" in school.said["refused"]
    account = school.said["plan"]["account"]
    assert account["to_decide"] == 0
    found = account["kept"] + account["converted"] + account["gone"] + account["redo"]
    assert found == account["found"] == 17
    foreseen, alone = school.said["plan"]["predicted"], school.said["then"]["axes"]
    assert foreseen["flight"] == "tern-f1"
    for axis in AXES:
        assert foreseen["axes"][axis]["stability"] == "stable"
        assert foreseen["axes"][axis]["after"] == alone[axis]["after"]["figures"]


def test_the_retune_keeps_the_answer_by_truth(school: School, truth: ModuleType, point: Any) -> None:
    """0.5 dB and 4 deg from 0.5 to 25 Hz, peak no worse, stable: the bars of the method's map."""
    assert school.said["retune"]["good"]
    new = tern.controller(tern.values_of(school.said["left"], tern.NEW), tern.NEW)
    assert truth.is_stable(tern.TERN, new, point)
    grid = np.geomspace(0.5, 25.0, 120)
    sides = [truth.responses(tern.TERN, one, point, grid) for one in (old(), new)]
    wide = [truth.responses(tern.TERN, one, point, np.geomspace(0.5, 160.0, 400)) for one in (old(), new)]
    for place in range(3):
        ratio = sides[1].response[place] / sides[0].response[place]
        assert np.max(np.abs(20 * np.log10(np.abs(ratio)))) < 0.6
        assert np.max(np.abs(np.degrees(np.angle(ratio)))) < 4.0
        peaks = [np.max(1 / np.abs(1 + one.loop[place])) for one in wide]
        assert peaks[1] <= 1.02 * peaks[0]


def test_what_was_predicted_is_true(school: School, truth: ModuleType, point: Any) -> None:
    """2 %, 2 deg, 0.7 dB; quadratic thrust is no part of the plant's model and is allowed twice that in dB."""
    new = tern.controller(tern.values_of(school.said["left"], tern.NEW), tern.NEW)
    true = truth.truth(tern.TERN, new, point)
    for axis in AXES:
        figures = school.said["then"]["axes"][axis]["after"]["figures"]
        assert figures["bandwidth"]["value"] == pytest.approx(true[axis].bandwidth, rel=0.02)
        assert figures["phase_margin"]["value"] == pytest.approx(true[axis].phase_margin, abs=2.0)
        assert figures["gain_margin"]["value"] == pytest.approx(true[axis].gain_margin, abs=1.5)
        assert figures["bandwidth"]["low"] <= true[axis].bandwidth <= figures["bandwidth"]["high"]


def test_it_flies_as_before_and_the_logbook_says_so(school: School) -> None:
    """The planned flights, and the verdict; then margins stand."""
    for seed in range(12, 12 + max(1, min(school.said["card"]["flights"], 4))):
        add_flight(school, school.said["left"], seed)
    text = school.run("verdict", "tern")
    assert "Verdict: flies as before" in text
    body = json.loads(school.run("verdict", "tern", "--json"))
    assert body["outcome"] == "flies as before"
    assert body["margins"]["digest"] == school.said["card"]["margins"]["digest"]
    assert all(one["outcome"] == "flies as before" for one in body["quantities"] if one["needed"])
    book = school.run("logbook", "tern")
    assert "flies as before: tern-f2" in book
    assert school.run("gate", "--aircraft", "tern").count("verdict") >= 1
    late = school.run("testcard", "tern", "--margin", "axes.roll.bandwidth=0.5", code=2)
    assert "margins are set before the flight" in late


def test_a_flight_with_other_settings_than_told_differs(elsewhere: School) -> None:
    """Half the roll gain flown though the record says otherwise: roll is named."""
    school = elsewhere
    values = tern.values_of(school.said["left"], tern.NEW)
    wrong = (
        school.said["left"]
        .decode()
        .replace(
            f"turn.roll.answer := {values['turn.roll.answer']:g}",
            f"turn.roll.answer := {0.5 * values['turn.roll.answer']:g}",
        )
    )
    assert wrong.encode() != school.said["left"]
    for seed in (41, 42):
        add_flight(school, wrong.encode(), seed)
    text = school.run("verdict", "tern", code=4)
    assert "Differs" in text
    assert ", roll" in text.partition("Differs")[2].partition("\n\n")[0]
    assert "Changed otherwise than the settings say" in text
    body = json.loads(school.run("verdict", "tern", "--json", code=4))
    causes = {one["axis"]: one for one in body["causes"]}
    assert causes["roll"]["by_settings"] is False
    assert causes["roll"]["suspects"] == []
    held = {one["quantity"]: one["agreement"] for one in body["against_prediction"]}
    assert held["axes.roll.bandwidth"] == "not as predicted"
    assert held["axes.pitch.bandwidth"] == "as predicted"


def test_one_setting_left_otherwise_is_the_culprit(elsewhere: School) -> None:
    """A derivative gain mistyped on the board and read back: predicted, and named with its planned value."""
    school = elsewhere
    planned = f"{tern.values_of(school.said['left'], tern.NEW)['turn.roll.brake']:g}"
    typed = school.said["left"].decode().replace(f"turn.roll.brake := {planned}", "turn.roll.brake := 0.002")
    (school.folder / "typed.txt").write_bytes(typed.encode())
    school.run("readback", str(school.folder / "typed.txt"), code=4)
    add_flight(school, typed.encode(), 43)
    body = json.loads(school.run("verdict", "tern", "--json", code=4))
    [cause] = body["causes"]
    assert cause["axis"] == "roll"
    assert cause["by_settings"] is True
    assert cause["suspects"] == [
        [{"setting": "turn.roll.brake", "now": "0.002", "back": planned, "unit": None}]
    ]
    assert cause["proof"]["flights"] == 1
    held = {one["quantity"]: one["agreement"] for one in body["against_prediction"]}
    assert held["axes.roll.bandwidth"] == "as predicted"


def test_after_a_sign_off_what_was_left_is_the_baseline(elsewhere: School) -> None:
    school = elsewhere
    add_flight(school, school.said["left"], 51)
    school.run("sign", "tern", "--name", "Ines Aldana", "--role", "instructor")
    school.run("plan", "tern", "--to", tern.OLD, code=2)
    card = json.loads(school.run("testcard", "tern", "--json"))
    assert card["refit"] == "tern-r2"
    assert card["baseline"] == ["tern-f2"]


def test_margins_that_are_none_are_refused(school: School) -> None:
    assert "is no margin" in school.run("testcard", "tern", "--margin", "axes.roll.bandwidth", code=1)
    assert "0 or more" in school.run("verdict", "tern", "--scatter", "-1", code=1)
    assert "one of them" in school.run("flight", "add", "x.csv", "tern", code=1)
