"""Names and units told apart in header cells."""

from __future__ import annotations

import pytest

from asflown.formats.flightlog.header import is_unit, looks_like_units, name_and_unit, named


@pytest.mark.parametrize(
    ("cell", "name", "unit"),
    [
        ("gyro x [deg/s]", "gyro x", "deg/s"),
        ("gyro_x (rad/s)", "gyro_x", "rad/s"),
        ("rate_command.roll [rad/s]", "rate_command.roll", "rad/s"),
        ("rate_command.roll [rad s^-1]", "rate_command.roll", "rad s^-1"),
        ("accel.z {m/s2}", "accel.z", "m/s2"),
        ("accel z (m/s²)", "accel z", "m/s²"),
        ("accel[m/s^2]", "accel", "m/s^2"),
        ("Voltage/V", "Voltage", "V"),
        ("pack voltage / mV", "pack voltage", "mV"),
        ("gyro x / (deg/s)", "gyro x", "deg/s"),
        ("time_us", "time_us", "us"),
        ("t_s", "t_s", "s"),
        ("timestamp.ms", "timestamp.ms", "ms"),
        ("gyro_x_deg_s", "gyro_x_deg_s", "deg/s"),
        ("throttle [%]", "throttle", "%"),
        ("throttle [1]", "throttle", "1"),
        ("temp [°C]", "temp", "°C"),
        ("rpm", "rpm", None),
        ("motor[1]", "motor[1]", None),
        ("motor[0]", "motor[0]", None),
        ("gyro (x)", "gyro (x)", None),
        ("gyro (raw)", "gyro (raw)", None),
        ("rate (filtered)", "rate (filtered)", None),
        ("motor_a", "motor_a", None),
        ("pos_m", "pos_m", None),  # a letter may be a unit or a name: left to who knows the signals
        ("deg/s", "deg/s", None),
        ("m/s", "m/s", None),
        ("left/right", "left/right", None),
        ("[V]", "[V]", None),
        ("", "", None),
        ("a/b/V", "a/b", "V"),
    ],
)
def test_name_and_unit(cell, name, unit):
    assert name_and_unit(cell) == (name, unit)


def test_units_are_told_from_words():
    assert all(
        map(is_unit, ("deg/s", "rad s^-1", "m/s2", "m s-2", "mV", "1/s", "N·m", "rev/s", "µs", "kg m^2"))
    )
    assert not any(map(is_unit, ("", "roll", "mode 3", "x", "raw", "m/x", "//")))
    assert looks_like_units(["s", "deg/s", "", "[V]"])
    assert not looks_like_units(["time", "rate", "volt age"])
    assert not looks_like_units(["", ""])


def test_every_name_stands_once():
    columns, twice = named(["a", "", "a", "a (column 1)", ""], [])
    names = [name for name, _, _ in columns]
    assert len(set(names)) == 5
    assert twice == ["a"]
    assert [whole for _, _, whole in columns] == ["a", "", "a", "a (column 1)", ""]
