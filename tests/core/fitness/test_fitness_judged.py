"""What a log can be used for: each broken or poor kind gets its own reason and its next step."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.fitness import Family, Grade, fitness
from asflown.core.flight import Conditions, Flight, Trace
from asflown.core.segments import segments
from asflown.core.signal.timebase import examine

AXES = ("roll", "pitch", "yaw")


def good(rate=1000, seconds=80, ground=31):
    t = np.arange(int((seconds + ground) * rate)) / rate
    air = t > ground
    random = np.random.default_rng(0)
    busy = air & (t < ground + 60)
    columns = {}
    for number, axis in enumerate(AXES):
        turn = np.where(busy, 1.5 * np.sign(np.sin(2 * np.pi * (0.4 + 0.1 * number) * t)), 0)
        columns[f"rate_command.{axis}"] = turn
        columns[f"rate.{axis}"] = turn + random.normal(0, 0.01, t.size)
    for axis in "xyz":
        columns[f"accel.{axis}"] = random.normal(0, 1, t.size)
    for i in range(1, 5):
        columns[f"motor.{i}"] = np.where(air, 0.35 + 0.02 * random.standard_normal(t.size), 0.05)
        columns[f"rotor_speed.{i}"] = np.where(air, 110 + random.standard_normal(t.size), 0)
    columns["pack_voltage"] = 16 - 0.01 * t
    columns["pack_current"] = np.where(air, 12 + random.standard_normal(t.size), 0.5)
    return t, columns


def judged(t, columns, **more):
    flight = Flight({name: Trace(name, t, values, "1") for name, values in columns.items()}, **more)
    uses = fitness(flight, segments(flight), examine(t))
    assert [use.family for use in uses] == list(Family)
    return {use.family: use for use in uses}


def without(columns, *starts):
    return {name: values for name, values in columns.items() if not name.startswith(starts)}


def test_a_good_log_is_usable_for_all():
    t, columns = good()
    uses = judged(t, columns, conditions=Conditions(air_pressure_pa=101_325.0))
    assert {use.grade for family, use in uses.items() if family is not Family.GROUND} == {Grade.USABLE}
    assert uses[Family.GROUND].grade is Grade.PARTLY  # 31 s at rest: too short for an Allan deviation


@pytest.mark.parametrize(
    "rate, family, grade",
    [
        (250, Family.MARGINS, Grade.NOT),
        (100, Family.RESPONSE, Grade.PARTLY),
        (100, Family.MARGINS, Grade.NOT),
        (100, Family.VIBRATION, Grade.NOT),
        (50, Family.RESPONSE, Grade.NOT),
    ],
)
def test_slow_logs_are_told_what_to_log(rate, family, grade):
    use = judged(*good(rate))[family]
    assert use.grade is grade
    assert f"{rate} rows a second" in use.statement
    assert any("500 Hz" in step or "1000 Hz" in step for step in use.next_time)


@pytest.mark.parametrize(
    "gone, family, grade, says",
    [
        (("motor",), Family.MOTORS, Grade.NOT, "no motor columns"),
        (("motor",), Family.MARGINS, Grade.NOT, "log the command to every motor"),
        (("rate_command",), Family.RESPONSE, Grade.NOT, "rate_command.roll not logged"),
        (("rate.yaw",), Family.RESPONSE, Grade.PARTLY, "yaw: rate.yaw not logged"),
        (("pack_voltage",), Family.POWER, Grade.NOT, "log the pack voltage"),
        (("pack_current",), Family.POWER, Grade.PARTLY, "no resistance"),
        (("rotor_speed",), Family.VIBRATION, Grade.PARTLY, "found blind"),
        (("accel", "rate."), Family.VIBRATION, Grade.NOT, "neither rates nor accelerations"),
        (("rate.",), Family.GROUND, Grade.NOT, "no rates logged"),
    ],
)
def test_missing_columns(gone, family, grade, says):
    t, columns = good(seconds=40)
    use = judged(t, without(columns, *gone))[family]
    assert use.grade is grade
    assert says in use.statement


def test_all_nan_and_constant_columns_count_as_missing_and_say_which():
    t, columns = good(seconds=40)
    columns["rate.roll"] = np.full(t.size, np.nan)
    columns["rate_command.pitch"] = np.zeros(t.size)
    use = judged(t, columns)[Family.RESPONSE]
    assert use.grade is Grade.PARTLY
    assert "rate.roll has no values" in use.statement
    assert "rate_command.pitch never changes" in use.statement


def test_time_faults_and_short_flights():
    t, columns = good(seconds=40)
    keep = np.random.default_rng(1).random(t.size) > 0.05
    part = {name: values[keep] for name, values in columns.items()}
    use = judged(t[keep], part)[Family.RESPONSE]
    assert use.grade is Grade.PARTLY
    assert "rows are missing" in use.statement
    t, columns = good(seconds=10)
    assert "wide intervals: roll 10 s of about 20 s" in judged(t, columns)[Family.RESPONSE].statement
    on_ground = t < 31
    use = judged(t[on_ground], {name: values[on_ground] for name, values in columns.items()})
    assert use[Family.LIMIT_CYCLE].grade is Grade.NOT
    assert "no flight in the log" in use[Family.LIMIT_CYCLE].statement


def test_without_a_rate_nothing_is_usable():
    t, columns = good(rate=100, seconds=20)
    assert {use.grade for use in judged(t * 0, columns).values()} == {Grade.NOT}


def test_folding_rotor_lines_are_told():
    t, columns = good(rate=500, seconds=40)
    for i in range(1, 5):
        columns[f"rotor_speed.{i}"] = (
            columns[f"rotor_speed.{i}"] * 2.2
        )  # 240 rev/s: twice that folds to 20 Hz
    use = judged(t, columns)[Family.MARGINS]
    assert use.grade is Grade.PARTLY
    assert "order 2" in use.statement
