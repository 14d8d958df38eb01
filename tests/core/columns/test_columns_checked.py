"""A remembered layout against a log it may no longer fit, and units a header states wrongly."""

from __future__ import annotations

import numpy as np
from headers_known import KNOWN
from made_up_logs import log_of, read_header

from asflown.core.columns import check, merge, propose
from asflown.core.layout import Layout, Origin
from asflown.core.log_table import Column, LogTable

HEADER = read_header(KNOWN["units in names"])


def _confirmed(table):
    layout = propose(table)
    return Layout(layout.fingerprint, layout.assignments, layout.unused, (), True, "none")


def _with(table, name, change):
    columns = tuple(
        Column(c.name, c.unit, change(c.numbers), c.words, c.header) if c.name in name else c
        for c in table.columns
    )
    return LogTable(columns, table.rows, table.shape)


def test_a_layout_fits_another_flight_of_the_same_logger():
    layout = _confirmed(log_of(HEADER, 1))
    for seed in (2, 3, 4):
        again = merge(layout, log_of(HEADER, seed))
        assert again.doubts == ()
        assert again.is_confirmed
        assert {line.origin for line in again.assignments} == {Origin.REMEMBERED}


def test_a_unit_that_changed_by_57_is_doubted():
    layout = _confirmed(log_of(HEADER, 1))
    rates = ("gyro_x_dps", "gyro_y_dps", "gyro_z_dps")
    changed = _with(log_of(HEADER, 2), rates, np.radians)
    doubts = check(layout, changed)
    assert any("57.3" in doubt.question and "rad/s" in doubt.choices for doubt in doubts)
    assert not merge(layout, changed).is_confirmed


def test_motors_logged_in_another_span_are_doubted():
    layout = _confirmed(log_of(HEADER, 1))
    changed = _with(log_of(HEADER, 2), ("m1_pct",), lambda numbers: 1000 + 10 * numbers)
    assert any(
        doubt.subject == "m1_pct" and "unit changed" in doubt.question for doubt in check(layout, changed)
    )


def test_a_rate_that_turned_round_is_doubted():
    layout = _confirmed(log_of(HEADER, 1))
    changed = _with(log_of(HEADER, 2), ("gyro_y_dps",), np.negative)
    assert any(d.subject == "rate.pitch" and "other way round" in d.question for d in check(layout, changed))


def test_columns_changed_over_are_doubted():
    layout = _confirmed(log_of(HEADER, 1))
    table = log_of(HEADER, 2)
    swap = {"cmd_p_dps": "gyro_x_dps", "gyro_x_dps": "cmd_p_dps"}
    columns = tuple(
        Column(swap.get(c.name, c.name), c.unit, c.numbers, c.words, c.header) for c in table.columns
    )
    doubts = check(layout, LogTable(columns, table.rows, "csv"))
    assert any("comes after" in doubt.question for doubt in doubts)


def test_a_column_that_is_gone_is_told_and_a_new_one_proposed():
    layout = _confirmed(log_of(HEADER, 1))
    table = log_of(HEADER, 2)
    columns = tuple(c for c in table.columns if c.name != "alt_m")
    extra = Column("roll_deg", None, np.degrees(np.sin(np.arange(table.rows) / 700.0)), (), "roll_deg")
    merged = merge(layout, LogTable((*columns, extra), table.rows, "csv"))
    assert any("no such column" in doubt.question for doubt in merged.doubts)
    assert merged.of("attitude.roll") is not None
    assert merged.of("attitude.roll").origin is not Origin.REMEMBERED
    assert not merged.is_confirmed


def test_a_time_that_stands_still_is_doubted():
    layout = _confirmed(log_of(HEADER, 1))
    changed = _with(log_of(HEADER, 2), ("t_s",), np.zeros_like)
    assert any("does not climb" in doubt.question for doubt in check(layout, changed))


def test_a_header_that_states_the_wrong_unit_is_doubted():
    header = read_header(
        "time : time : s : s\nrate_command*3 : x cmd, y cmd, z cmd : rad/s : rad/s\nrate*3 : gyro x, gyro y, gyro z : rad/s : deg/s\npack_voltage : vbat : mV : V"
    )
    layout = propose(log_of(header, 3))
    assert any("deg/s" in d.question and "57.3" in d.question for d in layout.doubts)
    assert any(d.subject == "vbat" and d.choices == ("V", "mV") for d in layout.doubts)
