"""A log opened: the layout from a file, from memory or proposed; what is open settled or refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_flight import log_bytes, opened, source, table

from asflown.app.flights import layouts, settle
from asflown.app.flights.open_log import KnownBy, Said, open_log
from asflown.core.layout import Doubt
from asflown.errors import InputError, NeedsPerson, UsageError
from asflown.formats.layout_toml import write_layout


def test_a_log_that_states_its_units_leaves_nothing_open():
    log = opened()
    assert log.known_by is KnownBy.PROPOSED
    assert not log.is_confirmed
    assert log.doubts == ()
    assert {a.signal for a in log.layout.assignments} >= {"time", "rate.roll", "motor.4", "pack_voltage"}
    flight = log.flight()
    rate = np.asarray(flight.traces["rate.roll"].values)
    column = log.table.column("gyro roll")
    assert np.allclose(rate, np.deg2rad(np.asarray(column.numbers)), rtol=1e-5, atol=1e-6)
    assert flight.traces["time"].time[1] == pytest.approx(0.001)


def test_what_a_person_states_wins():
    log = opened(said=Said({"rate": "rad/s"}))
    assert log.layout.of("rate.roll").factor == 1.0
    with pytest.raises(InputError, match="cannot be used"):
        opened(said=Said({"rate": "bananas"}))


def test_a_layout_file_is_taken_as_it_is_and_reads_only_its_columns():
    written = write_layout(opened().layout)
    log = open_log(source(), Said(layout=(written, "layout.toml")))
    assert log.known_by is KnownBy.FILE
    assert log.layout.assignments == opened().layout.assignments
    few = "\n\n".join(
        part
        for part in written.split("\n\n")
        if "[[column]]" not in part or '"time"' in part or 'column = "gyro' in part
    )
    some = open_log(source(), Said(layout=(few, "few.toml")))
    assert {a.signal for a in some.layout.assignments} == {"time", "rate.roll", "rate.pitch", "rate.yaw"}
    assert len(some.table.columns) == 4


def test_a_layout_file_and_statements_together_are_refused():
    with pytest.raises(UsageError, match="together"):
        opened(said=Said({"rate": "deg/s"}, ("fingerprint = '0'", "x.toml")))


def test_a_confirmed_layout_is_remembered_by_its_header_and_forgotten(work):
    log = settle.confirmed(opened())
    layouts.remember(work, log.layout)
    again = open_log(source(), store=work.store)
    assert again.known_by is KnownBy.REMEMBERED
    assert again.is_confirmed
    assert again.layout.assignments == log.layout.assignments
    other = open_log(source(log_bytes().replace(b"gyro roll", b"gyro rol", 1)), store=work.store)
    assert other.known_by is KnownBy.PROPOSED
    layouts.remember(work, log.layout)
    assert len(work.store.revisions(layouts.KIND, log.layout.fingerprint)) == 1
    layouts.forget(work, layouts.meant(work.store, log.layout.fingerprint[:5]))
    assert open_log(source(), store=work.store).known_by is KnownBy.PROPOSED
    assert layouts.all_remembered(work.store) == ()
    with pytest.raises(UsageError, match="no layout"):
        layouts.meant(work.store, log.layout.fingerprint)


def test_statements_are_made_of_choices():
    log = opened()
    cases = [
        (
            Doubt("gyro roll", "is 'gyro roll' rate.roll, or none of them?", ("rate.roll", "not used")),
            0,
            "rate.roll=gyro roll",
        ),
        (Doubt("gyro roll", "is 'gyro roll' rate.roll, or none of them?", ("rate.roll", "not used")), 1, ""),
        (Doubt("gyro roll", "'gyro roll' is rate.roll: in which unit?", ("deg/s", "rad/s")), 1, "rate=rad/s"),
        (Doubt("motor", "what speed is full command?", ("0..9000 rpm",)), 0, "motor=0..9000 rpm"),
        (Doubt("time", "at what rate?", ("1000 Hz", "another column")), 0, "time=1000 Hz"),
        (Doubt("time", "at what rate?", ("1000 Hz", "another column")), 1, ""),
        (Doubt("rate", "which is roll?", ("rate.roll=gyro roll",)), 0, "rate.roll=gyro roll"),
        (Doubt("rate.roll", "is one turned?", ("as logged", "turn 'x' (factor -1)")), 1, ""),
        (Doubt("accel.z", "what?", ("g",), statements=("accel=g",)), 0, "accel=g"),
    ]
    assert [settle.statement_of(doubt, i, log.table) for doubt, i, _ in cases] == [say for *_, say in cases]


def test_what_is_open_is_refused_with_the_words_that_settle_it():
    log = opened(table("a,b,c", 400, "i", "i % 7", "i % 5"))
    assert log.doubts
    error = settle.needs_a_word(log)
    assert isinstance(error, NeedsPerson)
    assert error.exit_code == 2
    assert '--assume "time=1000 Hz"' in error.next_step
    assert "--accept-proposed" in error.next_step


def test_a_rate_of_rows_that_nothing_shows_is_never_taken():
    log = opened(table("a,b,c", 400, "i", "i % 7", "i % 5"))
    taken = settle.accept(log, {})
    assert taken.doubts == ()
    assert taken.layout.of("time") is None
    with pytest.raises(InputError, match="no column is known to be the time") as caught:
        taken.flight()
    assert "--assume" in caught.value.next_step


def test_a_choice_that_no_word_can_say_leads_to_the_layout_file():
    log = opened()
    doubt = Doubt("rate.roll", "is one turned?", ("as logged", "turn 'gyro roll' (factor -1)"))
    with pytest.raises(NeedsPerson, match="cannot be said") as caught:
        settle.answered(log, {}, {doubt: 1})
    assert "--save-layout" in caught.value.next_step
    assert settle.answered(log, {}, {doubt: 0}).layout.assignments == log.layout.assignments


def test_what_contradicts_the_settled_layout_is_not_taken_and_not_said_to_be():
    log = opened()
    odd = Doubt("rate", "which is roll?", ("rate.roll=pack voltage",), "nothing tells")
    turned = Doubt("rate.roll", "is one turned?", ("as logged", "turn 'gyro roll' (factor -1)"), "it may be")
    asked = replace(log, layout=replace(log.layout, doubts=(odd, turned)))
    taken = settle.accept(asked, {})
    assert taken.taken == (turned,)
    assert taken.layout.of("rate.roll").column == "gyro roll"
