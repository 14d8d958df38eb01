"""Parquet and Arrow: what polars wrote is read back, in seconds and words."""

from __future__ import annotations

import datetime
import io

import numpy as np
import polars as pl
import pytest
from flightlog_tools import facts, read, values
from hypothesis import given
from hypothesis import strategies as st

from asflown.adapters.log_file import LogFile
from asflown.formats.flightlog import read_log

WAYS = {
    "parquet": pl.DataFrame.write_parquet,
    "arrow": pl.DataFrame.write_ipc,
    "arrow stream": pl.DataFrame.write_ipc_stream,
}


def packed(frame: pl.DataFrame, way: str) -> bytes:
    made = io.BytesIO()
    WAYS[way](frame, made)
    return made.getvalue()


@pytest.mark.parametrize("way", WAYS)
def test_kinds_of_columns(way):
    when = datetime.datetime(2026, 3, 7, 8, 12, 44, 250_000)
    frame = pl.DataFrame(
        {
            "stamp": [when, when + datetime.timedelta(milliseconds=2)],
            "since": [datetime.timedelta(seconds=1.5), datetime.timedelta(seconds=2)],
            "clock": [datetime.time(0, 1, 2), datetime.time(23, 0, 0, 500_000)],
            "time_us": [1_700_000_000_000_000, 1_700_000_000_001_000],
            "gyro x [deg/s]": [1.25, float("inf")],
            "small": pl.Series([1, None], dtype=pl.Int16),
            "armed": [True, None],
            "mode": pl.Series(["hold", "free"], dtype=pl.Categorical),
            "none": pl.Series([None, None]),
            "parts": [[1, 2], [3]],
        }
    )
    table = read(packed(frame, way))
    assert table.shape == way
    assert values(table) == {
        "stamp": [1772871164.25, pytest.approx(1772871164.252, abs=1e-6)],
        "since": [1.5, 2.0],
        "clock": [62.0, 82800.5],
        "time_us": [1.7e15, 1.7e15 + 1000],
        "gyro x": [1.25, None],
        "small": [1, None],
        "armed": ["true", ""],
        "mode": ["hold", "free"],
        "none": [None, None],
    }
    assert [column.unit for column in table.columns][:5] == ["s", "s", "s", "us", "deg/s"]
    assert facts(table) == {"infinite cells": 1, "columns not read": 1}
    assert not any(column.numbers.flags.writeable for column in table.columns if column.numbers is not None)


@given(
    way=st.sampled_from(sorted(WAYS)),
    rows=st.lists(
        st.tuples(
            st.floats(-1e6, 1e6, width=32) | st.none(),
            st.integers(-(2**53), 2**53),
            st.text(max_size=5).filter(lambda text: "\0" not in text),
        ),
        min_size=1,
        max_size=30,
    ),
)
def test_what_was_written_is_read(way, rows):
    frame = pl.DataFrame(rows, schema={"a": pl.Float32, "b": pl.Int64, "c": pl.String}, orient="row")
    made = values(read(packed(frame, way)))
    assert made["a"] == [row[0] for row in rows]
    assert np.allclose(made["b"], [row[1] for row in rows], rtol=1e-6)
    assert made["c"] == [row[2] for row in rows]


@pytest.mark.parametrize("way", WAYS)
def test_by_path_some_columns_a_head_and_thinned(tmp_path, way):
    count = 16_000
    frame = pl.DataFrame(
        {
            "time_us": np.arange(count) * 125,
            "a": np.sin(np.arange(count) * 0.01),
            "b": np.arange(count, dtype=np.float32) % 9 / 7,
            "code": np.arange(count) // 9000,
            "mode": ["hold"] * 9000 + ["free"] * 7000,
        }
    )
    path = tmp_path / "a [1]*.log"  # no pattern of a shell
    path.write_bytes(packed(frame, way))
    source = LogFile(str(path))
    assert values(read_log(source, rows=3, columns=["b", "time_us"]))["time_us"] == [0, 125, 250]
    table = read_log(source, limit_bytes=count * 28 // 4)
    assert (table.thinned, table.rows) == (4, count // 4)
    assert np.array_equal(table.column("time_us").numbers, np.arange(0, count, 4) * 125)
    assert np.allclose(
        table.column("a").numbers[20:-20], np.sin(np.arange(0, count, 4) * 0.01)[20:-20], atol=1e-3
    )
    assert set(table.column("code").numbers) == {0, 1}
    assert table.column("mode").words == ("hold",) * 2250 + ("free",) * 1750


def test_names_that_differ_by_unit_alone():
    frame = pl.DataFrame({"v [V]": [1.0], "v [mV]": [1000.0]})
    assert list(values(read(packed(frame, "parquet")))) == ["v (column 1)", "v (column 2)"]
