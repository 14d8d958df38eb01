"""Tables of any kind: a layout or an InputError, never a traceback or a warning."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asflown.core.columns import apply_layout, check, merge, propose
from asflown.core.log_table import Column, LogTable
from asflown.errors import InputError

NAMES = st.sampled_from(
    [
        "time",
        "t_us",
        "gyro_x",
        "rate.roll",
        "cmd roll",
        "a",
        "",
        "  ",
        "m1",
        "vbat [V]",
        "q",
        "[]",
        "µ",
        "x" * 90,
        "9",
    ]
) | st.text(max_size=12)


@st.composite
def tables(draw):
    rows = draw(st.sampled_from([0, 1, 2, 5, 70, 600]))
    random = np.random.default_rng(draw(st.integers(0, 99)))
    columns = []
    for _ in range(draw(st.integers(0, 7))):
        name, kind = draw(NAMES), draw(st.integers(0, 9))
        unit = draw(
            st.none()
            | st.sampled_from(["deg/s", "V", "", "[rad s^-1]", "%%", "us", "0.1 V"])
            | st.text(max_size=6)
        )
        if kind == 0:
            words = tuple(random.choice(["", "on", "12:00:01", "2026-01-01", "x y", "1e5"], rows))
            columns.append(Column(name, unit, None, tuple(str(w) for w in words), name))
            continue
        columns.append(Column(name, unit, _numbers(kind, rows, random), (), name))
    return LogTable(tuple(columns), rows, "csv")


def _numbers(kind, rows, random):
    made = {
        1: np.arange(rows) * 1000.0,
        2: random.normal(0, 1, rows),
        3: np.full(rows, np.nan),
        4: np.full(rows, 7.0),
        5: random.normal(0, 1e300, rows),
        6: np.where(random.random(rows) < 0.3, np.nan, np.arange(rows) / 500.0),
        7: np.where(random.random(rows) < 0.1, np.inf, random.normal(1500, 90, rows)),
        8: (np.arange(rows) * 997.0) % 65536,
        9: random.normal(0, 1e-300, rows),
    }[kind]
    return made.astype(np.float32) if kind in (2, 4) else made


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(tables(), tables())
def test_any_table_is_read_or_refused(table, other):
    layout = propose(table)
    names = [line.signal for line in layout.assignments]
    assert len(names) == len(set(names))
    assert all(0 <= line.certainty <= 1 and line.factor != 0 and line.reasons for line in layout.assignments)
    for one in (table, other):
        check(layout, one)
        merge(layout, one)
        try:
            flight = apply_layout(one, layout)
        except InputError as error:
            assert error.next_step  # noqa: PT017
            continue
        assert all(trace.values.shape == trace.time.shape for trace in flight.traces.values())


@given(tables(), st.sampled_from(["time", "rate", "motor.1", "accel", "mode", "zz"]), st.text(max_size=8))
def test_any_statement_is_taken_or_refused(table, key, value):
    try:
        propose(table, assume={key: value})
    except InputError as error:
        assert error.faults  # noqa: PT017


@pytest.mark.parametrize("wanted", ["gyro", "", "a_b_c", "É", "9x9", "(((", "V" * 200])
def test_odd_names_are_read(wanted):
    assert propose(LogTable((Column(wanted, wanted, np.arange(50.0)),), 50, "csv")).fingerprint
