"""Public data sets: every column right. Sources and licences stand at each; see ABOUT.md of each folder."""

from __future__ import annotations

import math

import polars as pl
import pytest

from asflown.core.columns import apply_layout, check, propose
from asflown.core.log_table import Column, LogTable

DEG = math.pi / 180
GYRO = {f"gyro_{a}_dps": (f"rate.{r}", DEG) for a, r in zip("xyz", ("roll", "pitch", "yaw"), strict=True)}


def _acc(unit, factor):
    return {f"acc_{a}_{unit}": (f"accel.{a}", factor) for a in "xyz"}


SETS = {
    # github.com/xioTechnologies/Fusion, MIT
    "imu_handheld/session": {"t_s": ("time", 1.0), **GYRO, **_acc("g", 9.80665)},
    # github.com/mad-lab-fau/imucal, MIT
    "imu_sixpos/session": {"t_s": ("time", 1.0), **GYRO, **_acc("mps2", 1.0)},
    # PyPI rotorpy 3.0.0, MIT, simulated. Motor commands are speeds whose full value the log does not tell.
    "rotorpy_sim/A_seed1": {
        "t_s": ("time", 1.0),
        **{
            f"cmd_{a}_dps": (f"rate_command.{r}", DEG)
            for a, r in zip("pqr", ("roll", "pitch", "yaw"), strict=True)
        },
        **{f"gyro_{a}_dps": (f"rate.{r}", DEG) for a, r in zip("pqr", ("roll", "pitch", "yaw"), strict=True)},
        **{f"m{n}_cmd_rads": (f"motor.{n}", None) for n in range(1, 5)},
        **{f"rpm{n}": (f"rotor_speed.{n}", 1 / 60) for n in range(1, 5)},
        "vbat_synth_V": ("pack_voltage", 1.0),
        "ibat_synth_A": ("pack_current", 1.0),
    },
    # github.com/ansfl/Quadrotor-Dead-Reckoning-with-Multiple-Inertial-Sensors, CC BY 4.0 (Hurwitz & Klein,
    # arXiv:2310.13452)
    "quad4imu_dev/horizontal_path_1": {
        "t_s": ("time", 1.0),
        **GYRO,
        **_acc("mps2", 1.0),
        **{
            f"euler_{a}_deg": (f"attitude.{r}", DEG)
            for a, r in zip("xyz", ("roll", "pitch", "yaw"), strict=True)
        },
    },
    # github.com/StrawsonDesign/motor_propeller_testing, MIT; one run of eleven steps. The speed is electrical and
    # the poles are not told: left as a doubt.
    "motor_prop_stand/runs": {
        "t_s": ("time", 1.0),
        "esc_us": ("motor.1", 1e-3),
        "voltage_V": ("pack_voltage", 1.0),
        "current_A": ("pack_current", 1.0),
    },
}


def _table(path):
    frame = pl.read_parquet(path)
    if "imu" in frame.columns:
        frame = frame.filter(pl.col("imu") == 1)
    if "group" in frame.columns:
        frame = frame.filter((pl.col("group") == "a") & (pl.col("index") == 1))
    columns = tuple(
        Column(n, None, None, tuple(frame[n].to_list()), n)
        if frame[n].dtype == pl.String
        else Column(n, None, frame[n].to_numpy(), (), n)
        for n in frame.columns
    )
    return LogTable(columns, frame.height, "parquet")


@pytest.mark.parametrize("name", sorted(SETS))
def test_every_column_is_right(name, shared):
    table = _table(shared / "data" / f"{name}.parquet")
    layout = propose(table)
    found = {line.column: line for line in layout.assignments}
    assert {c: line.signal for c, line in found.items()} == {
        c: signal for c, (signal, _) in SETS[name].items()
    }
    for column, (_, factor) in SETS[name].items():
        assert factor is None or abs(found[column].factor) == pytest.approx(factor)
    assert apply_layout(table, layout).has("time")


def test_what_those_logs_do_not_tell_is_asked(shared):
    layout = propose(_table(shared / "data" / "rotorpy_sim/A_seed1.parquet"))
    assert any("what speed is full command" in doubt.question for doubt in layout.doubts)
    layout = propose(_table(shared / "data" / "motor_prop_stand/runs.parquet"))
    assert any(doubt.subject == "rpm_elec" for doubt in layout.doubts)


def test_a_layout_of_one_flight_fits_its_sisters(shared):
    layout = propose(_table(shared / "data" / "quad4imu_dev/horizontal_path_1.parquet"))
    for number in range(2, 9):
        assert check(layout, _table(shared / "data" / f"quad4imu_dev/horizontal_path_{number}.parquet")) == ()


def test_names_taken_away_the_rates_are_still_found_by_their_lags(shared):
    """rotorpy 3.0.0 (MIT), simulated, columns renamed without meaning."""
    table = _table(shared / "data" / "rotorpy_sim/A_seed1.parquet")
    columns = tuple(Column(f"col{i}", None, c.numbers, (), f"col{i}") for i, c in enumerate(table.columns))
    layout = propose(LogTable(columns, table.rows, "parquet"))
    found = {line.signal: line.column for line in layout.assignments}
    assert found.get("time") == "col0"
    names = [f"rate_command.{a}" for a in ("roll", "pitch", "yaw")] + [
        f"rate.{a}" for a in ("roll", "pitch", "yaw")
    ]
    right = sum(found.get(name) == f"col{at}" for at, name in enumerate(names, 1))
    wrong = sum(name in found and found[name] != f"col{at}" for at, name in enumerate(names, 1))
    assert wrong == 0
    assert right == 6 or any(doubt.subject == "rate" for doubt in layout.doubts)
