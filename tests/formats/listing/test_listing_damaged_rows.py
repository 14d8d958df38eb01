"""A row that lost a column, or a stray line, is left for a person; it never renames what follows it."""

from __future__ import annotations

import pytest

from asflown.demo import scenario
from asflown.formats import listing

WHOLE = scenario.found_listing("plover")
ROWS = WHOLE.split(b"\r\n")
PLACE = next(number for number, row in enumerate(ROWS) if row.startswith(b"motor.a.pin"))
KNOWN = {setting.key: setting.value for setting in listing.read(WHOLE).settings}


@pytest.mark.parametrize(
    "row", [b"motor.a.pin  3", b"motor.a.pin 3", b"motor.a.pin\t3", b"motor 3", b"motor.a"]
)
def test_a_damaged_row_costs_itself_alone(row):
    read = listing.read(b"\r\n".join([*ROWS[:PLACE], row, *ROWS[PLACE + 1 :]]))
    assert len(read.settings) == len(KNOWN) - 1
    assert all(KNOWN[setting.key] == setting.value for setting in read.settings)
    assert [line.line for line in read.not_understood] == [PLACE + 1]


@pytest.mark.parametrize("stray", [b"battery 3", b"low battery", b"warning: rx lost", b"beep 1"])
def test_a_stray_line_among_rows_is_shown_and_changes_nothing(stray):
    read = listing.read(b"\r\n".join([*ROWS[:PLACE], stray, *ROWS[PLACE:]]))
    assert {setting.key: setting.value for setting in read.settings} == KNOWN
    assert [line.line for line in read.not_understood] == [PLACE + 1]
