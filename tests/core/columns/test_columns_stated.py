"""What a person states wins; what cannot be understood is refused with what is possible."""

from __future__ import annotations

import math

import numpy as np
import pytest
from headers_known import KNOWN
from made_up_logs import log_of, read_header

from asflown.core.columns import propose
from asflown.core.layout import Origin
from asflown.core.log_table import Column, LogTable
from asflown.errors import InputError

LETTERS = read_header(KNOWN["letters"])
TABLE = log_of(LETTERS, 1, seconds=5.0)


def test_columns_that_are_stated_win():
    layout = propose(TABLE, assume={"motor.1": "k", "altitude": "b"})
    assert layout.of("motor.1").column == "k"
    assert layout.of("altitude").column == "b"
    assert layout.of("altitude").origin is Origin.PERSON
    assert layout.of("rate_command.roll") is None


def test_units_that_are_stated_win():
    named = log_of(read_header(KNOWN["no units, radians"]), 1, seconds=5.0)
    layout = propose(named, assume={"rate": "deg/s", "time": "us"})
    assert layout.of("time").factor == 1e-6
    assert layout.of("rate.roll").factor == pytest.approx(math.pi / 180)
    assert "a person stated the unit deg/s" in layout.of("rate.roll").reasons


def test_scaled_and_spanned_units_can_be_stated():
    layout = propose(
        TABLE,
        assume={
            "rate.roll": "e",
            "rate": "0.061 deg/s",
            "motor": "0..1500 rad/s",
            "motor.1": "h",
            "rotor_speed": "electrical rpm, 14 poles",
            "rotor_speed.1": "i",
        },
    )
    assert layout.of("rate.roll").factor == pytest.approx(0.061 * math.pi / 180)
    assert layout.of("motor.1").factor == pytest.approx(1 / 1500)
    assert layout.of("rotor_speed.1").factor == pytest.approx(1 / 60 / 7)


@pytest.mark.parametrize(
    "assume, told",
    [
        ({"sway": "deg/s"}, "'sway' is no signal; possible: time, rate_command"),
        ({"rate": "furlong"}, "'furlong' is no unit of rate; possible: rad/s, deg/s"),
        ({"rate.roll": "zz"}, "columns: a, b, c"),
        ({"motor": "2..1"}, "no unit of motor"),
        ({"rotor_speed": "electrical rpm, 13 poles"}, "no unit of rotor_speed"),
        ({"motor.1": "h", "motor.2": "h"}, "column 'h' is stated for motor.1 too"),
    ],
)
def test_what_is_not_understood_is_refused(assume, told):
    with pytest.raises(InputError) as caught:
        propose(TABLE, assume=assume)
    assert told in str(caught.value)


def test_all_faults_at_once():
    with pytest.raises(InputError) as caught:
        propose(TABLE, assume={"sway": "x", "rate": "y", "time": "s"})
    assert len(caught.value.faults) == 2


def test_a_unit_that_cannot_be_told_is_asked_once_for_the_set():
    """Rates of 16 in the middle between rad/s and deg/s, without noise: nothing tells."""
    time = np.arange(4000) / 100.0
    columns = [Column("t", None, time)]
    columns += [
        Column(f"gyro {a}", None, 16 * np.sin(time * f)) for a, f in (("x", 3.0), ("y", 2.0), ("z", 1.0))
    ]
    layout = propose(LogTable(tuple(columns), 4000, "csv"))
    assert [line.signal for line in layout.assignments] == ["time"]
    (doubt,) = layout.doubts
    assert doubt.subject == "rate"
    assert doubt.question == "'gyro x', 'gyro y', 'gyro z' are rate: in which unit?"
    assert set(doubt.choices[:2]) == {"rad/s", "deg/s"}
