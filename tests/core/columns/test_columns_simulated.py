"""Flights of the closed-loop simulator under invented headers: columns right, and none wrong."""

from __future__ import annotations

import importlib.util
import sys

import numpy as np
import pytest
from made_up_logs import FACTORS, read_header
from scoring import Count, score

from asflown.core.columns import propose
from asflown.core.log_table import Column, LogTable

HEADERS = {
    "degrees": """
time : time : us
rate_command*3 : setpoint roll, setpoint pitch, setpoint yaw : deg/s
rate*3 : gyro x, gyro y, gyro z : deg/s
accel*xyz : acc x, acc y, acc z : g
motor*4 : motor 0, motor 1, motor 2, motor 3 : us 1000..2000
throttle : throttle : us 1000..2000
pack_voltage : vbat : cV
pack_current : current : A
rotor_speed*4 : rpm 0, rpm 1, rpm 2, rpm 3 : rpm
control*3 : pid roll, pid pitch, pid yaw : -1..1
""",
    "radians": """
time : t : s
rate_command*3 : p_cmd, q_cmd, r_cmd : rad/s
rate*3 : p, q, r : rad/s
accel*xyz : ax, ay, az : m/s2
motor*4 : u1, u2, u3, u4 : 0..1
pack_voltage : voltage : V
""",
    "letters": """
time : a : us
rate_command*3 : b, c, d : deg/s
rate*3 : e, f, g : deg/s
accel*xyz : h, i, j : g
motor*4 : k, l, m, n : us 1000..2000
throttle : o : us 1000..2000
pack_voltage : p : mV
pack_current : q : A
rotor_speed*4 : r, s, t, u : rpm
control*3 : v, w, x : -1..1
""",
}


@pytest.fixture(scope="module")
def flights(root):
    path = root / "tools" / "flights" / "population.py"
    spec = importlib.util.spec_from_file_location("population", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["population"] = module
    spec.loader.exec_module(module)
    flown = (
        (11, "linear", "normal"),
        (12, "quadratic", "low"),
        (13, "mixed", "normal"),
        (15, "spin", "high"),
    )
    return [module.fly(seed, structure, 20.0, activity) for seed, structure, activity in flown]


def _table(header, flight):
    columns = []
    for signal, name, unit, stated in header:
        values = flight.time if signal == "time" else np.asarray(flight.values[signal], dtype=float)
        factor, offset = FACTORS[unit]
        numbers = values / factor + offset
        whole = unit in ("us 1000..2000", "mV", "cV", "us")
        columns.append(Column(name, stated, np.rint(numbers) if whole else numbers, (), name))
    return LogTable(tuple(columns), flight.time.size, "csv")


@pytest.mark.slow
@pytest.mark.parametrize("name, least", [("degrees", 0.9), ("radians", 0.88), ("letters", 0.85)])
def test_simulated_flights(name, least, flights, capsys):
    header, total, told = read_header(HEADERS[name]), Count(), []
    for flight in flights:
        total.add(score(header, propose(_table(header, flight)), told))
    with capsys.disabled():
        print(f"\nsimulated, {name}: {total.line()}")
    assert total.right >= least * total.total, told
    assert total.signal + total.unit == 0, told
