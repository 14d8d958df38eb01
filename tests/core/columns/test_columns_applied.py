"""A table through a layout: SI values, one time array, labels, faulty times."""

from __future__ import annotations

import math

import numpy as np
import pytest

from asflown.core.columns import apply_layout, propose
from asflown.core.columns.assume import ROW_NUMBER
from asflown.core.flight import Conditions
from asflown.core.layout import Assignment, Layout
from asflown.core.log_table import Column, LogTable
from asflown.errors import InputError


def _table(*columns, rows=None):
    made = []
    for name, values in columns:
        if isinstance(values[0], str):
            made.append(Column(name, None, None, tuple(values), name))
        else:
            made.append(Column(name, None, np.asarray(values, dtype=float), (), name))
    return LogTable(tuple(made), rows or len(columns[0][1]), "csv", sha256="ab")


def _layout(*lines, **more):
    return Layout("0" * 16, tuple(Assignment(*line) for line in lines), **more)


def test_values_come_in_si_on_one_time_array():
    table = _table(("t", [5000, 6000, 7000]), ("g", [180.0, -90.0, 0.0]), ("c", [20.0, 21.0, 22.0]))
    flight = apply_layout(
        table,
        _layout(
            ("t", "time", "us", 1e-6),
            ("g", "rate.roll", "deg/s", math.pi / 180),
            ("c", "air_temperature", "degC", 1.0, -273.15),
            rate_filter="none",
        ),
        Conditions(pack="7"),
    )
    assert flight.traces["time"].values == pytest.approx([0, 1e-3, 2e-3])
    assert flight.traces["rate.roll"].values == pytest.approx([math.pi, -math.pi / 2, 0])
    assert flight.traces["air_temperature"].values == pytest.approx([293.15, 294.15, 295.15])
    assert len({id(trace.time) for trace in flight.traces.values()}) == 1
    assert not any(t.values.flags.writeable or t.time.flags.writeable for t in flight.traces.values())
    assert (flight.source, flight.rate_filter, flight.conditions.pack) == ("ab", "none", "7")


def test_single_precision_stays_and_factor_one_copies_nothing():
    values = np.arange(3, dtype=np.float32)
    table = LogTable(
        (Column("t", None, np.arange(3.0)), Column("a", None, values), Column("b", None, values)),
        3,
        "parquet",
    )
    layout = _layout(("t", "time", "s"), ("a", "altitude", "m"), ("b", "pack_voltage", "mV", 1e-3))
    flight = apply_layout(table, layout)
    assert flight.traces["altitude"].values.dtype == flight.traces["pack_voltage"].values.dtype == np.float32
    assert np.shares_memory(flight.traces["altitude"].values, values)
    assert values.flags.writeable


def test_rows_without_a_time_are_left_out_and_told():
    table = _table(("t", [0, math.nan, 2, math.inf]), ("v", [1, 2, 3, 4]), ("mode", ["a", "b", "c", "d"]))
    layout = _layout(("t", "time", "s"), ("v", "pack_voltage", "V"), ("mode", "mode", "words"))
    flight = apply_layout(table, layout)
    assert flight.traces["pack_voltage"].values.tolist() == [1, 3]
    assert flight.labels["mode"].words == ("a", "c")
    assert [(fault.kind, fault.count) for fault in flight.time_faults] == [("unreadable stamp", 2)]
    assert "2 of 4 rows" in flight.time_faults[0].statement


def test_labels_hold_until_they_change():
    words = ["", "off", "off", "", "on", "on", "off"]
    codes = [math.nan, 1, 1, 2, 2, 2, 1]
    table = _table(("t", range(7)), ("armed", words), ("mode", codes))
    layout = _layout(("t", "time", "s"), ("armed", "armed", "words"), ("mode", "mode", "words"))
    labels = apply_layout(table, layout).labels
    assert labels["armed"].words == ("off", "on", "off")
    assert labels["armed"].time.tolist() == [1, 4, 6]
    assert labels["mode"].words == ("1", "2", "1")
    assert labels["mode"].at(4.5) == "2"
    empty = apply_layout(
        _table(("t", range(3)), ("m", ["", "", ""])), _layout(("t", "time", "s"), ("m", "mode", "words"))
    )
    assert empty.labels["m" if "m" in empty.labels else "mode"].words == ()


@pytest.mark.parametrize("width", [2**16, 2**24, 2**32])
def test_a_counter_that_runs_over_is_counted_on(width):
    true = np.arange(0, 3 * width, width // 50, dtype=float) + width * 0.7
    flight = apply_layout(_table(("t", true % width)), _layout(("t", "time", "us", 1e-6)))
    assert flight.traces["time"].values == pytest.approx((true - true[0]) * 1e-6)
    assert flight.time_faults[0].kind == "wrap"
    assert f"{width}" in flight.time_faults[0].statement


def test_a_clock_that_went_back_is_left_as_logged():
    flight = apply_layout(_table(("t", [0, 1, 2, 0, 1, 2])), _layout(("t", "time", "s")))
    assert flight.traces["time"].values.tolist() == [0, 1, 2, 0, 1, 2]
    assert flight.time_faults == ()


@pytest.mark.parametrize(
    "words, seconds",
    [
        (["2026-03-07T09:12:44.000", "2026-03-07T09:12:44.250", "2026-03-07 09:12:45"], [0, 0.25, 1]),
        (["2026/03/07 09:12:44Z", "2026/03/07 09:12:45Z", "bad"], [0, 1]),
        (["09:12:44.5", "09:12:45.0", "09:13:00"], [0, 0.5, 15.5]),
        (["23:59:59.5", "00:00:00.5", "00:00:01.5"], [0, 1, 2]),
    ],
)
def test_dates_and_times_of_day(words, seconds):
    table = _table(("clock", words), ("v", [1.0, 2.0, 3.0]))
    flight = apply_layout(table, _layout(("clock", "time", "time of day")))
    assert flight.traces["time"].values == pytest.approx(seconds)


def test_without_a_time_column_the_rate_is_stated():
    table = _table(("gyro x [dps]", np.sin(np.arange(4000) / 40.0) * 90))
    assert any(doubt.subject == "time" for doubt in propose(table).doubts)
    with pytest.raises(InputError, match="no column is known to be the time"):
        apply_layout(table, propose(table))
    layout = propose(table, assume={"time": "500 Hz"})
    assert layout.of("time").column == ROW_NUMBER
    flight = apply_layout(table, layout)
    assert flight.traces["time"].values[-1] == pytest.approx(3999 / 500)


def test_a_layout_of_another_log_is_refused_with_every_fault():
    table = _table(("t", range(3)), ("w", ["a", "b", "c"]))
    layout = _layout(("t", "time", "s"), ("w", "altitude", "m"), ("x", "rate.roll", "deg/s"))
    with pytest.raises(InputError) as caught:
        apply_layout(table, layout)
    assert len(caught.value.faults) == 2
    with pytest.raises(InputError, match="no readable time"):
        apply_layout(_table(("t", [math.nan] * 3)), _layout(("t", "time", "s")))
