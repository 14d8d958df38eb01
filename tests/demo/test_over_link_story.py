"""The whole refit over a link, told by one command: nobody touches a settings file, and what it says holds."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest

from asflown.app.calibrate.kept import calibrations
from asflown.demo.aircraft.sensors import Sensors
from asflown.demo.dune import firmware
from asflown.faces.cli.main import main
from asflown.faces.wiring import workplace


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    import contextlib
    import io

    folder = tmp_path_factory.mktemp("beach") / "told"
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(["demo", str(folder), "--over-link"])
    assert code == 0, err.getvalue()
    return folder, out.getvalue()


def held(folder):
    lines = (folder / "sanderling.params").read_text().splitlines()
    assert lines[0] == "# dune-2.0"
    return {row["name"]: float(row["value"]) for row in csv.DictReader(lines[1:])}


def test_every_setting_is_as_planned(told):
    folder, text = told
    assert "20 parameters set and acknowledged; 0 held theirs already; as left = as planned" in text
    values, found = held(folder), firmware.SANDERLING
    # the firmware's own definitions say what each must be, not the tool under test
    assert values["LOST_WAIT"] == 1000 * found["LOST_WAIT"]
    assert values["LOST_DOES"] == 1  # hold and land, dealt out anew; 3 would stop the motors
    assert values["CELL_WARN"] == pytest.approx(found["PACK_WARN"] / 4, rel=1e-6)
    assert values["GYRO_PASS"] == found["GYRO_CUT"]
    assert values["SPIN_BR"] == found["SPIN_BR"]
    assert values["BOARD_YAW"] == found["BOARD_YAW"]
    assert values["LOG_RATE"] == found["LOG_RATE"]


def test_what_was_calibrated_is_what_the_sensors_are(told):
    """The settings that were written undo the simulated sensors' own errors."""
    folder, _ = told
    values, truth = held(folder), Sensors()
    rows = np.linalg.norm(truth.accel_gain, axis=1)
    gravity = 9.80665 / 9.813  # of the simulation, and at 53 degrees north
    for axis, offset, row in zip("XYZ", truth.accel_offset, rows, strict=True):
        assert values[f"ACCEL_OFF_{axis}"] == pytest.approx(offset, abs=0.002)
        assert values[f"ACCEL_SIZE_{axis}"] == pytest.approx(row * gravity, abs=0.001)
    for axis, iron in zip("XYZ", truth.iron, strict=True):
        assert values[f"NORTH_OFF_{axis}"] == pytest.approx(iron, abs=0.1)
    assert values["LEVEL_ROLL"] == pytest.approx(truth.trim[0], abs=0.3)  # its axes lean a little too
    assert values["LEVEL_PITCH"] == pytest.approx(truth.trim[1], abs=0.3)
    kept = calibrations(workplace(str(folder / "store")).store, "sanderling")
    left = next(one for one in kept if one.what == "accelerometer" and one.when.value == "as left")
    for axis in "xyz":
        assert abs(left.results[f"offset {axis}"].value) < 0.005


def test_nothing_forbidden_is_in_the_book(told):
    _, text = told
    assert "Everything kept is what it was." in text
    assert "Settings proven; not bench-checked, not flown." in text
    assert "simulated:usb:sanderling.flash" in text


def test_the_bench_names_what_was_calibrated_in_this_refit(told, capsys):
    folder, _ = told
    assert main(["bench", "sanderling", "--json", "--store", str(folder / "store")]) == 0
    kept = json.loads(capsys.readouterr().out)["calibrations"]
    assert [one["what"] for one in kept] == [
        "accelerometer",
        "accelerometer",
        "level",
        "magnetometer",
        "voltage",
    ]
    assert {one["when"] for one in kept} == {"as found", "as left"}
    assert all(one["fit_for_use"] for one in kept)


def test_a_person_at_a_terminal_is_asked_to_hold_it(told, capsys, monkeypatch):
    folder, _ = told
    monkeypatch.setattr("asflown.faces.cli.console.is_terminal", lambda: True)
    monkeypatch.setattr("sys.stdin", io.StringIO("\n" * 5))
    link = f"simulated:mavlink:{folder}/sanderling.params,level"
    code = main(
        ["bench", "read", "orientation", "--link", link, "--seconds", "2", "--store", str(folder / "store")]
    )
    out = capsys.readouterr().out
    assert code == 4  # nobody tilted it
    assert "roll, right side down: hold it so, then Enter" in out
    assert "yaw change, nose right: Enter, then turn it and hold it, within 8 s" in out
    assert "3 values not as expected" in out
