"""The stick and the safety settings of two records, against numpy and the demo firmware's definitions."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from asflown.app.aircraft import new_aircraft
from asflown.app.behaviour import behaviour_of, compare_behaviour
from asflown.app.releases import add_release
from asflown.app.take_record import Request, take_record
from asflown.app.views.behaviour_compared import compared_behaviour_json, compared_behaviour_sheet
from asflown.app.views.behaviour_shown import behaviour_json, behaviour_sheet
from asflown.core.aircraft import Aircraft
from asflown.core.statements.statements import Outcome
from asflown.demo import releases, scenario
from asflown.demo.device import SimulatedBoard
from asflown.errors import UsageError

OLD, NEW = scenario.OLD_RELEASE, scenario.NEW_RELEASE
#: The stick as plover's second set has it: full rate (deg/s), share of the cubic, dead band (4 of 500 us).
FULL, EXPO, BAND = 300.0, 0.35, 4 / 500
CHANGES = (
    (rb"(?m)^(silent\.wait +)15", rb"\g<1>40"),
    (rb"(?m)^(silent\.act +)3", rb"\g<1>1"),
    (rb"(?m)^(roll\.quick +)300", rb"\g<1>345"),
)


def curve(full: float, expo: float) -> Polynomial:
    """The commanded rate over the way beyond the dead band, from its definition (common practice)."""
    return Polynomial([0.0, full * (1 - expo), 0.0, full * expo])


@pytest.fixture
def plover(work):
    """Plover under both releases, as found, and with a quicker stick and another act without radio."""
    for release in (OLD, NEW):
        add_release(work, dict(releases.folders()[release]), release)
    new_aircraft(work, Aircraft("plover", "Plover", release=OLD))
    changed = scenario.found_listing()
    for pattern, text in CHANGES:
        changed, count = re.subn(pattern, text, changed)
        assert count == 1
    for data in (scenario.found_listing(), changed):
        take_record(work, Request(data, "listing.txt", "plover"))
    return work


def test_the_stick_shown_is_the_polynomial(plover):
    shown = behaviour_of(plover.store, "plover-001")
    body = behaviour_json(shown)["stick"]["roll"]
    x = np.array(body["deflection"])
    beyond = np.sign(x) * np.maximum(np.abs(x) - BAND, 0) / (1 - BAND)
    np.testing.assert_allclose(np.degrees(body["rate"]), curve(FULL, EXPO)(beyond), atol=1e-9)
    table = next(one for one in behaviour_sheet(shown).tables if one.title == "What the stick asks for")
    rows = {row[0]: row[1:] for row in table.rows}
    for place in (25, 50, 75, 100):
        wanted = curve(FULL, EXPO)((place / 100 - BAND) / (1 - BAND))
        assert float(rows[f"at {place} % stick"][0]) == pytest.approx(wanted, abs=0.05)
    assert rows["dead band"] == ("0.8", "0.8", "0.8", "% of the way")


def test_the_largest_difference_is_where_the_polynomials_put_it(plover):
    made = compare_behaviour(plover.store, "plover-001", "plover-002")
    body = compared_behaviour_json(made)["stick"]
    apart = curve(345.0, EXPO) - curve(FULL, EXPO)
    places = [1.0, *(root.real for root in apart.deriv().roots() if 0 < root.real < 1)]
    most = max(places, key=lambda place: abs(apart(place)))
    assert np.degrees(body["roll"]["largest"]) == pytest.approx(apart(most), rel=1e-6)
    assert body["roll"]["deflection"] == pytest.approx(BAND + most * (1 - BAND), abs=1e-3)
    assert body["pitch"]["largest"] == 0.0
    sheet = compared_behaviour_sheet(made)
    assert "At 100 % stick roll asks for 45 deg/s more. The stick asks for the same in pitch and yaw." in (
        sheet.sentence
    )
    back = compared_behaviour_sheet(compare_behaviour(plover.store, "plover-002", "plover-001"))
    assert "At 100 % stick roll asks for 45 deg/s less." in back.sentence


def test_safety_stands_first_and_is_marked(plover):
    made = compare_behaviour(plover.store, "plover-001", "plover-002")
    sheet = compared_behaviour_sheet(made)
    assert sheet.tables[0].rows == (
        ("safety", "Radio lost, acts by itself after", "1.5 s", "4 s"),
        ("safety", "Radio lost, what it does", "come home", "come down level"),
    )
    assert sheet.warnings == (
        "2 settings that touch safety are not as before: radio lost, acts by itself after; radio lost, what it"
        " does",
    )
    body = compared_behaviour_json(made)
    assert not body["same"]
    assert [one["says"] for one in body["statements"]][:2] == [
        "radio lost, acts by itself after: before 1.5 s, after 4 s",
        "radio lost, what it does: before come home, after come down level",
    ]


def test_a_number_for_number_copy_shows_its_traps(plover):
    """The demo firmware's own definitions say which numbers mean something else; each is called changed."""
    found = scenario.PLOVER.values()
    board = SimulatedBoard(NEW)
    copied = {
        key: value for key, value in found.items() if key.name in ("silent.wait", "silent.act", "silent.shut")
    }
    wrong = {item.setting.name for item in scenario.naive_copy(found) if item.setting in copied}
    assert wrong == {"silent.wait", "silent.act", "silent.shut"}
    listing = board.listing("full").decode()
    for key, value in copied.items():
        was = re.search(rf"(?m)^{re.escape(key.name)} +(\S+)", listing)
        listing = listing[: was.start(1)] + value.ljust(len(was[1])) + listing[was.end(1) :]
    take_record(plover, Request(listing.encode(), "copied.txt", "plover", release=NEW))
    made = compare_behaviour(plover.store, "plover-001", "plover")
    told = {name: one for one in made.statements for name in one.before.settings}
    assert {told[name].outcome for name in wrong} == {Outcome.CHANGED}
    body = {one["role"]: one["says"] for one in compared_behaviour_json(made)["statements"]}
    assert body["radio_loss.delay"] == "radio lost, acts by itself after: before 1.5 s, after 0.015 s"
    assert body["radio_loss.action"] == "radio lost, what it does: before come home, after stop the motors"
    assert body["radio_loss.motor_stop_delay"] == "radio lost, motors stop after: before never, after at once"


def test_a_flag_too_many_or_a_side_too_few_is_refused(plover):
    with pytest.raises(UsageError, match="the second is missing"):
        compare_behaviour(plover.store, "plover")
    with pytest.raises(UsageError, match="no second is named"):
        compare_behaviour(plover.store, "plover", "plover-001", plan=True)
    with pytest.raises(UsageError, match="has no open refit"):
        compare_behaviour(plover.store, "plover", plan=True)
    with pytest.raises(UsageError, match="neither a record nor an aircraft nor a refit"):
        compare_behaviour(plover.store, "plover", "plover-r9")
