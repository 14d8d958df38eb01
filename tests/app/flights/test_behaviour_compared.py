"""What settings amount to in the rate loop: of the worked example's aircraft, with one of its gains changed."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from asflown.app.aircraft import new_aircraft
from asflown.app.behaviour import behaviour_of, compare_behaviour
from asflown.app.releases import add_release
from asflown.app.take_record import Request, take_record
from asflown.app.views.behaviour_compared import compared_behaviour_json, compared_behaviour_sheet
from asflown.app.views.behaviour_shown import behaviour_json, behaviour_sheet
from asflown.core.aircraft import Aircraft
from asflown.demo import releases, scenario
from asflown.demo.flight import OLD_LOOP
from asflown.errors import UsageError

OLD = "marram-4.1"


@pytest.fixture
def plover(work):
    """Plover with three records: as found, again, and with twice the derivative gain in roll."""
    add_release(work, dict(releases.folders()[OLD]), OLD)
    new_aircraft(work, Aircraft("plover", "Plover", release=OLD))
    listing = scenario.found_listing()
    changed = listing.replace(b"0.01171875", b"0.02343750")
    assert changed != listing
    for data in (listing, listing + b"\n", changed):
        take_record(work, Request(data, "listing.txt", "plover"))
    return work


def test_the_answers_shown_are_those_of_the_board(plover, truth):
    """Against the transfer functions of tools/flights/truth.py, which asflown does not use."""
    body = behaviour_json(behaviour_of(plover.store, "plover-001"))
    _, wanted = truth.controllers(OLD_LOOP, np.array(body["axes"]["roll"]["frequency"]))
    np.testing.assert_allclose(body["axes"]["roll"]["rate"]["gain"], np.abs(wanted[0]), rtol=1e-9)
    rows = behaviour_sheet(behaviour_of(plover.store, "plover-001")).tables[0].rows
    _, ten = truth.controllers(OLD_LOOP, np.array([10.0]))
    row = next(row for row in rows if row[0] == "answer to the rate at 10 Hz")
    assert float(row[1]) == pytest.approx(100 * abs(ten[0, 0]) * math.radians(100), rel=0.005)


def test_the_same_settings_change_nothing(plover):
    made = compare_behaviour(plover.store, "plover-001", "plover-002")
    assert made.is_same
    sheet = compared_behaviour_sheet(made)
    assert sheet.sentence == (
        "Radio, arming and battery settings: all 19 as before. Roll: nothing changes. Pitch: nothing changes."
        " Yaw: nothing changes. The stick asks for the same in roll, pitch and yaw."
    )
    assert not sheet.warnings
    assert any("none was measured" in note for note in sheet.notes)


def test_twice_the_derivative_is_told_in_words_and_figures(plover, truth):
    made = compare_behaviour(plover.store, "plover-001", "plover-003", at=12.0)
    assert not made.is_same
    body = compared_behaviour_json(made)["axes"]
    kd = OLD_LOOP.kd
    twice = type(OLD_LOOP)(
        **{name: getattr(OLD_LOOP, name) for name in OLD_LOOP.__slots__ if name != "kd"},
        kd=(2 * kd[0], kd[1], kd[2]),
    )
    at = np.array([12.0])
    ratio = truth.controllers(twice, at)[1][0, 0] / truth.controllers(OLD_LOOP, at)[1][0, 0]
    assert body["roll"]["firmness"] == pytest.approx(abs(ratio), rel=1e-9)
    assert body["roll"]["delay"] == pytest.approx(-np.angle(ratio) / (2 * np.pi * 12.0), rel=1e-6)
    assert body["roll"]["delay"] < 0
    assert body["roll"]["noise"] == pytest.approx(2.0, rel=0.05)
    assert body["pitch"]["firmness"] == pytest.approx(1.0)
    sheet = compared_behaviour_sheet(made)
    assert "Roll: firmer by " in sheet.sentence
    assert "ms sooner there" in sheet.sentence
    assert "times the noise at" in sheet.sentence
    assert "Pitch: nothing changes." in sheet.sentence
    assert any("frequency stated" in note for note in sheet.notes)


def test_what_is_not_declared_is_not_compared(work):
    files = {path: data for path, data in releases.folders()[OLD].items() if path != "control.toml"}
    add_release(work, files, OLD)
    new_aircraft(work, Aircraft("plover", "Plover", release=OLD))
    take_record(work, Request(scenario.found_listing(), "listing.txt", "plover"))
    made = compare_behaviour(work.store, "plover", "plover-001")
    assert (made.axes, made.is_same) == ({}, False)
    sheet = compared_behaviour_sheet(made)
    assert sheet.notes[:2] == (
        "Roll, pitch, yaw: marram-4.1 declares no control structure (control.toml).",
        "The stick in roll, pitch, yaw: marram-4.1 declares no curve of the stick (control.toml).",
    )
    assert "all 19 as before" in sheet.sentence  # the catalog alone is enough for the statements
    (table,) = behaviour_sheet(behaviour_of(work.store, "plover")).tables
    assert table.columns == ("about", "what", "says")


def test_an_axis_without_gains_is_said_not_divided_by(plover):
    gains = rb"(?m)^(roll\.(?:firm|stay|calm) +)[0-9.]+"
    silent, count = re.subn(gains, rb"\g<1>0.0", scenario.found_listing())
    assert count == 9  # three gains in three sets
    take_record(plover, Request(silent, "listing.txt", "plover"))
    made = compare_behaviour(plover.store, "plover-001", "plover")
    assert made.reasons == {"roll": "with the settings of plover-004 it does not answer the rate at all"}
    assert set(made.axes) == {"pitch", "yaw"}


def test_a_frequency_the_loop_does_not_hold_is_refused(plover):
    with pytest.raises(UsageError, match="below 1000 Hz"):
        compare_behaviour(plover.store, "plover-001", "plover-002", at=1500.0)
    with pytest.raises(UsageError, match="above 0"):
        compare_behaviour(plover.store, "plover-001", "plover-002", at=0.0)
