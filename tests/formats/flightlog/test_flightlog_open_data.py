"""Open data as people have it on disk, read by the reader and by an independent one.

Sources and licences: quad4imu_dev (real flights, CC BY 4.0), rotorpy_sim (MIT), motor_prop_stand (MIT),
imu_sixpos and imu_handheld (MIT); each folder's ABOUT.md and LICENSE name the origin.
"""

from __future__ import annotations

import csv

import numpy as np
import polars as pl
import pytest

from asflown.adapters.log_file import LogFile
from asflown.formats.flightlog import read_log


def test_every_parquet_file(shared):
    paths = sorted((shared / "data").glob("*/*.parquet"))
    assert len(paths) >= 12
    for path in paths:
        frame = pl.read_parquet(path)
        table = read_log(LogFile(str(path)))
        assert table.rows == frame.height
        assert [column.header for column in table.columns] == frame.columns
        for column in table.columns:
            if column.numbers is not None:
                wanted = frame.get_column(column.header).cast(pl.Float64).to_numpy()
                assert np.allclose(column.numbers, wanted, rtol=1e-6, equal_nan=True), (
                    path.name,
                    column.name,
                )


def test_motor_stand_runs_against_the_csv_module(shared):
    """motor_prop_stand/runs.csv (MIT)."""
    path = shared / "data" / "motor_prop_stand" / "runs.csv"
    with path.open(newline="") as stream:
        header, *rows = csv.reader(stream)
    table = read_log(LogFile(str(path)))
    assert table.rows == len(rows)
    assert list(table.header) == header
    for place, column in enumerate(table.columns):
        cells = [row[place] for row in rows]
        if column.numbers is None:
            assert list(column.words) == cells
        else:
            wanted = np.array([float(cell) if cell else np.nan for cell in cells])
            assert np.allclose(column.numbers, wanted, rtol=1e-6, equal_nan=True)


@pytest.mark.parametrize("name", ["horizontal_path_1"])
def test_csv_and_parquet_of_one_flight_agree(shared, tmp_path, name):
    """quad4imu_dev (CC BY 4.0), written as text by polars."""
    frame = pl.read_parquet(shared / "data" / "quad4imu_dev" / f"{name}.parquet")
    frame.write_csv(tmp_path / "flight.csv", separator=";", decimal_comma=True)
    one = read_log(LogFile(str(shared / "data" / "quad4imu_dev" / f"{name}.parquet")))
    other = read_log(LogFile(str(tmp_path / "flight.csv")))
    assert one.header == other.header
    for left, right in zip(one.columns, other.columns, strict=True):
        assert np.allclose(left.numbers, right.numbers, rtol=1e-6, equal_nan=True)
