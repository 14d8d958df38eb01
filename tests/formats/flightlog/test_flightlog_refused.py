"""What is no log, or a damaged one, is refused in words with the next step."""

from __future__ import annotations

import io
import random
import subprocess
import sys

import polars as pl
import pytest
from flightlog_tools import facts, read, values

from asflown.adapters.log_file import LogBytes, LogFile, log_source
from asflown.errors import InputError
from asflown.formats.flightlog import read_log


def parquet() -> bytes:
    made = io.BytesIO()
    pl.DataFrame({"time": [1.0, 2.0], "a": [3.0, 4.0]}).write_parquet(made)
    return made.getvalue()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"\n\n  \n", "no line of text"),
        (b"firmware: reed 3\nvolt: 4\n", "2 lines of preamble and no table"),
        (b"time,a,b\n", "a header of 3 columns and no row"),
        (b"firmware: reed\ntime;a;b\n", "a header of 3 columns and no row"),
        (
            b"the quick brown fox\njumps over the lazy dog, they say\nand some more words\n",
            "no rows of numbers",
        ),
        (bytes(range(256)) * 20, "binary file"),
        (b"\x00" * 500, "binary file"),
        (random.Random(5).randbytes(5000).replace(b"\x00", b"\x01"), "binary file"),
        (b"PK\x03\x04 and so on", "spreadsheet"),
        (b"\x1f\x8bhello there, I am not packed", "none"),
        (b"x" * 5_000_000, "a line is longer than 1 MB"),
        (b"1," * 2_500_000, "a line is longer than 1 MB"),
        (b"PAR1 and nothing else", "damaged"),
        (parquet()[:-20], "damaged"),
        (b"ARROW1\0\0 and nothing else", "damaged"),
        (b"\xff\xff\xff\xff\x10\0\0\0", "damaged"),
    ],
    ids=lambda value: repr(value[:14]),
)
def test_refused_in_words(data, says):
    with pytest.raises(InputError, match=says) as caught:
        read(data)
    assert caught.value.where == "log.csv"
    assert caught.value.next_step


def test_columns_that_are_not_there():
    with pytest.raises(InputError, match=r"no column 'q'; it has 'time', 'a'"):
        read("time,a\n1,2\n2,3\n", columns=["q"])
    with pytest.raises(InputError, match=r"no column 'q'; it has 'time', 'a'"):
        read(parquet(), columns=["q"])


def test_one_row_and_no_number_at_all():
    assert values(read("time,a\n1,2\n")) == {"time": [1], "a": [2]}
    table = read("time,a,b\n1,nan,\n2,nan,\n3,nan,\n")
    assert values(table) == {"time": [1, 2, 3], "a": [None] * 3, "b": [None] * 3}


def test_a_folder_a_missing_file_and_a_pipe(tmp_path):
    for path, step in ((tmp_path, "give the log file in it"), (tmp_path / "no.csv", "check the name")):
        for make in (LogFile, log_source):
            with pytest.raises(InputError) as caught:
                make(str(path))
            assert step in caught.value.next_step


def test_a_damaged_columnar_file_leaves_no_trace_on_the_terminal():
    """A panic inside polars is written past Python; so it is looked for in a process of its own."""
    program = """
import io, random
import polars as pl
from asflown.adapters.log_file import LogBytes
from asflown.errors import InputError
from asflown.formats.flightlog import read_log
rng = random.Random(3)
frame = pl.DataFrame({"time": [float(x) for x in range(200)], "mode": ["hold"] * 200})
refused = 0
for way in (frame.write_ipc, frame.write_parquet, frame.write_ipc_stream):
    whole = io.BytesIO()
    way(whole)
    for _ in range(150):
        data = bytearray(whole.getvalue())
        for _ in range(3):
            data[rng.randrange(8, len(data))] = rng.randrange(256)
        try:
            read_log(LogBytes("x", bytes(data)))
        except InputError:
            refused += 1
print(refused)
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    assert int(done.stdout) > 50


def test_noise_after_a_good_beginning_is_counted():
    table = read(b"time,a\n1,2\n2,3\n3,4\n" + b"4,\xfe\xff\n" + b"5,6\n")
    assert values(table)["time"] == [1, 2, 3, 4, 5]
    assert facts(table) == {"unreadable cells": 1, "not UTF-8": 2}


def test_the_hash_is_of_the_bytes():
    import hashlib

    data = b"time,a\n1,2\n2,3\n"
    assert read_log(LogBytes("x", data)).sha256 == hashlib.sha256(data).hexdigest()
