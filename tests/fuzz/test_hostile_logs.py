"""Logs that try a reader's patience: each is read or refused in words, in bounded time."""

from __future__ import annotations

import gzip
import time
from contextlib import suppress

import pytest

from asflown.adapters.log_file import LogBytes
from asflown.errors import InputError
from asflown.formats.flightlog import read_log

#: s; a loaded machine takes several times what a free one does.
PATIENCE = 20.0
GOOD = b"time,a\n1,2\n2,3\n3,4\n"


@pytest.mark.parametrize(
    "data",
    [
        b"a[" * 20_000 + b"\n1\n2\n",
        b"(" * 20_000 + b"," + b")" * 20_000 + b"\n1,2\n2,3\n",
        b"a/" * 20_000 + b",b\n1,2\n2,3\n",
        b"time,a\n" + b"1" * 200_000 + b"x,2\n2,3\n3,4\n",
        b"time,a\n1," + b"1," * 100_000 + b"\n2,3\n3,4\n",
        b"time,a\n" + b'"' * 200_000 + b"\n1,2\n2,3\n",
        b"time,a\n" + b'",' * 100_000 + b"\n1,2\n2,3\n",
        b"1\n" * 1_000_000,
        b"\n" * 3_000_000 + GOOD,
        GOOD + b"\n" * 3_000_000,
        b" \t" * 500_000 + b"\n" + GOOD,
        b"key: value\n" * 200_000 + GOOD,
        b"# \n" * 500_000 + GOOD,
        GOOD * 100_000,
        GOOD + b"time,a\n" * 300_000,
        b"time,a\n" + b"1,2,\n2\n" * 200_000,
        b"time,a\n" + b"12:00:00:00:00,1.2.3.4\n" * 100_000,
        b"time;a\n" + b"1.1.1.1.1;1,1,1\n" * 100_000,
        b"\xff\xfe" + b"\x00\xd8" * 200_000,
        b"\xef\xbb\xbf" * 100_000,
        b"\r" * 500_000 + GOOD,
        b"\r\n" * 500_000 + GOOD,
        b"\x1a" * 1000 + GOOD,
        (
            ",".join(f"c{n}" for n in range(30_000)) + "\n" + ",".join("1" for _ in range(30_000)) + "\n"
        ).encode()
        * 3,
    ],
    ids=lambda data: f"{data[:16]!r} {len(data)}",
)
def test_read_or_refused_in_bounded_time(data):
    began = time.monotonic()
    with suppress(InputError):
        table = read_log(LogBytes("log.csv", data))
        assert table.rows > 0
        assert all(len(column.words) == table.rows for column in table.columns if column.numbers is None)
    assert time.monotonic() - began < PATIENCE


def test_a_packed_line_without_end_is_refused_before_it_fills_memory():
    bomb = gzip.compress(GOOD + b"x" * 300_000_000, 1)
    with pytest.raises(InputError, match="a line is longer than 64 MB"):
        read_log(LogBytes("log.csv.gz", bomb))


def test_a_packed_log_that_hides_its_size_is_thinned():
    """The size at the end of a gzip file is the last member's (RFC 1952); the first one is larger by far here."""
    rows = "".join(f"{0.001 * row:.3f},{row % 7}.5\n" for row in range(400_000))
    packed = gzip.compress(("time,a\n" + rows).encode(), 1) + gzip.compress(b"400.000,1.5\n")
    table = read_log(LogBytes("log.csv.gz", packed), limit_bytes=1_000_000)
    assert table.thinned == 2  # 1 kHz to 500 Hz
    assert table.rows == 200_001
