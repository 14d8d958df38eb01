"""Text logs of every kind people bring: what is read, and what is said about it."""

from __future__ import annotations

import gzip

import pytest
from flightlog_tools import facts, read, values

PLAIN = "time,a,b\n1,2.5,3\n2,3.5,4\n3,4.5,5\n"
TABLE = {"time": [1, 2, 3], "a": [2.5, 3.5, 4.5], "b": [3, 4, 5]}


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", "|"),
        PLAIN.replace(",", "   "),
        PLAIN.replace(",", " \t"),
        PLAIN.replace(",", ", "),
        PLAIN.replace(",", " , "),
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace(",", "\t").replace(".", ","),
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        PLAIN.replace("3\n", "3\r\n"),
        PLAIN.removesuffix("\n"),
        PLAIN.replace("\n", ",\n"),
        PLAIN.replace("\n", "\n\n"),
        '"time","a","b"\n"1","2.5","3"\n"2","3.5","4"\n"3","4.5","5"\n',
        "\ufeff" + PLAIN,
        "  time   a    b\n     1 2.5    3\n     2 3.5    4\n     3 4.5    5\n",
        "# " + PLAIN,
        "# time a b\n" + PLAIN.partition("\n")[2],
        "; made by a bench\n\nlogger: reed\n" + PLAIN,
        PLAIN.replace("2,3.5", "+2,35e-1").replace("1,2.5", "1.,.25e1"),
    ],
)
def test_one_table_written_in_many_ways(text):
    assert values(read(text)) == TABLE


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-8-sig", "cp1252"])
def test_encodings(encoding):
    table = read("time,temp [°C],note\n1,20.5,café\n2,20.6,café\n3,20.7,µ\n".encode(encoding))
    assert values(table) == {
        "time": [1, 2, 3],
        "temp": pytest.approx([20.5, 20.6, 20.7]),
        "note": ["café", "café", "µ"],
    }
    assert table.columns[1].unit == "°C"


def test_a_packed_log():
    assert values(read(gzip.compress(PLAIN.encode()))) == TABLE
    twice = gzip.compress(PLAIN.encode()) + gzip.compress(b"4,5.5,6\n")  # RFC 1952 2.2: members joined
    assert values(read(twice))["time"] == [1, 2, 3, 4]


def test_a_packed_log_that_ends_too_early_is_read_up_to_there():
    whole = "time,a\n" + "".join(f"{row},{row * row % 977}\n" for row in range(5000))
    table = read(gzip.compress(whole.encode())[:-600])
    assert 1000 < table.rows < 5000
    assert values(table)["a"] == [row * row % 977 for row in range(table.rows)]
    assert facts(table)["cut packed file"] == 1
    assert table.thinned == 1


def test_preamble_and_units_row():
    table = read(
        "firmware: reed 3\nlogged at = 2026-03-07\n# bench\ntime;rate;volt\ns;deg/s;V\n1;2;3\n2;3;4\n"
    )
    assert table.preamble == ("firmware: reed 3", "logged at = 2026-03-07", "# bench")
    assert table.stated == {"firmware": "reed 3", "logged at": "2026-03-07"}
    assert [(column.name, column.unit) for column in table.columns] == [
        ("time", "s"),
        ("rate", "deg/s"),
        ("volt", "V"),
    ]
    assert table.header == ("time [s]", "rate [deg/s]", "volt [V]")
    assert facts(table) == {"preamble": 3}


def test_without_header():
    table = read("1,2,3\n2,3,4\n3,4,5\n")
    assert list(values(table)) == ["column 1", "column 2", "column 3"]
    assert table.rows == 3
    assert "no header" in facts(table)


def test_a_restarted_logger():
    table = read("log: 1\n" + PLAIN + "log: 2\n" + PLAIN + PLAIN)
    assert values(table)["time"] == [1, 2, 3] * 3
    assert facts(table) == {"preamble": 1, "repeated header": 2, "repeated preamble": 1}
    assert "line 7" in next(fact.statement for fact in table.facts if fact.kind == "repeated header")


def test_a_restart_in_the_middle_of_a_row():
    table = read("time,a,b\n1,2,3\n2,3time,a,b\n1,2,3\n")
    assert values(table)["time"] == [1, 2, 1]
    assert facts(table)["repeated header"] == 1


def test_cut_last_line():
    table = read("time,a,b\n1,2.25,3\n2,2.5")
    assert values(table) == {"time": [1], "a": [2.25], "b": [3]}
    assert facts(table) == {"cut last line": 1}


def test_missing_and_unreadable_cells():
    table = read("time,a,b\n1,,3\n2,nan,inf\n3,-,NA\n4,5,x\n5,0x1F,7\n")
    assert values(table) == {
        "time": [1, 2, 3, 4, 5],
        "a": [None, None, None, 5, 31],
        "b": [3, None, None, None, 7],
    }
    assert facts(table) == {"unreadable cells": 1, "infinite cells": 1}
    said = " ".join(fact.statement for fact in table.facts)
    assert "'b'" in said
    assert "line 5" in said
    assert "line 3" in said


def test_short_and_long_rows():
    table = read("time,a,b\n1,2,3\n2,33\n3,4,5,6\n4,5,6\n5\n")
    assert values(table)["time"] == [1, 2, 3, 4]
    assert values(table)["a"] == [2, None, 4, 5]  # the last cell of a short row may be cut
    assert facts(table) == {"short rows": 1, "long rows": 1, "broken rows": 1}


def test_rows_that_leave_out_their_empty_last_cells():
    table = read("time,a,b,c\n1,2,3,4\n" + "2,3\n3,4\n4,5\n5,6,7\n" * 5)
    assert values(table)["a"][:4] == [2, 3, 4, 5]
    assert facts(table) == {"short rows": 20}


def test_words_and_truth_values():
    table = read("time,armed,mode\n1,true,hold\n2,true,\n3,false,free\n")
    assert values(table) == {
        "time": [1, 2, 3],
        "armed": ["true", "true", "false"],
        "mode": ["hold", "", "free"],
    }


def test_time_of_day_and_midnight():
    table = read("time,a\n23:59:59.5,1\n23:59:59.75,2\n00:00:00.25,3\n00:00:01,4\n")
    assert values(table)["time"] == [86399.5, 86399.75, 86400.25, 86401.0]
    assert table.columns[0].unit == "s"
    assert facts(table) == {"midnight": 1}


def test_dates():
    """Seconds since 1970 by Python's datetime: 2026-03-07T08:12:44.250Z is 1772871164.25."""
    table = read(
        "stamp,a\n2026-03-07T09:12:44.250+01:00,1\n2026-03-07 08:12:44.5,2\n2026/03/07 08:12:45Z,3\n"
    )
    assert values(table)["stamp"] == [1772871164.25, 1772871164.5, 1772871165.0]


def test_european_numbers_with_thousands():
    table = read("time;a;b\n0,1;1,5;1.234\n0,2;-2,5;2.345,5\n0,3;3,5;1.012.345\n")
    assert values(table) == {
        "time": [0.1, 0.2, 0.3],
        "a": [1.5, -2.5, 3.5],
        "b": pytest.approx([1234, 2345.5, 1012345]),
    }
    assert facts(table) == {"thousands": 3}


def test_thousands_with_commas():
    assert values(read('time;a\n1;1,234.5\n2;12.5\n3;"2,500.25"\n'))["a"] == [1234.5, 12.5, 2500.25]


def test_repeated_names_are_told_apart():
    table = read("time,a [V],a [A],b\n1,2,3,4\n2,3,4,5\n")
    assert list(values(table)) == ["time", "a (column 2)", "a (column 3)", "b"]
    assert [column.unit for column in table.columns] == [None, "V", "A", None]
    assert "repeated names" in facts(table)


def test_zero_bytes_of_a_logger_that_lost_power():
    table = read(PLAIN.encode() + b"\0" * 600)
    assert values(table) == TABLE
    assert facts(table) == {"zero bytes": 600}


def test_comments_and_blank_lines_among_rows():
    table = read("time,a\n1,2\n# restart\n2,3\n\n// x\n3,4\n")
    assert values(table)["time"] == [1, 2, 3]
    assert facts(table) == {"comment lines": 2, "blank lines": 1}


def test_quotes_without_partner():
    table = read('time,a,c\n1,2,x"\n2,3,"z\n3,4,w\n')
    assert values(table)["c"] == ["x", "z", "w"]
    assert facts(table) == {"stray quotes": 2}


def test_a_column_that_is_empty_for_long():
    rows = "".join(f"{row},{row},\n" for row in range(250_000))
    numbers = read("time,a,b\n" + rows + "250000,1,7\n")
    assert numbers.columns[2].numbers[-1] == 7
    words = read("time,a,b\n" + rows + "250000,1,boom\n")
    assert words.columns[2].words[-2:] == ("", "boom")
    assert len(words.columns[2].words) == 250_001


def test_a_column_that_turns_to_words():
    rows = "".join(f"{row},0\n" for row in range(50)) + "".join(f"{row},go\n" for row in range(50, 20_000))
    assert read("time,a\n" + rows).columns[1].words[-1] == "go"


def test_ten_thousand_columns():
    names = ",".join(f"c{number}" for number in range(10_000))
    row = ",".join("1.5" for _ in range(10_000))
    table = read(f"{names}\n" + f"{row}\n" * 5)
    assert (len(table.columns), table.rows) == (10_000, 5)
    assert all((column.numbers == 1.5).all() for column in table.columns)


def test_an_overlong_line_is_left_out():
    table = read("time,a,b\n1,2,3\n" + "x" * 5_000_000 + "\n3,4,5\n")
    assert values(table)["time"] == [1, 3]
    assert facts(table) == {"overlong lines": 1}


def test_a_head_and_some_columns():
    text = "time,a,b\n" + "".join(f"{row},{2 * row},{3 * row}\n" for row in range(100_000))
    head = read(text, rows=4, columns=["b", "time"])
    assert values(head) == {"time": [0, 1, 2, 3], "b": [0, 3, 6, 9]}
    assert head.sha256 == ""
    whole = read(text, columns=["b"])
    assert whole.columns[0].numbers.sum() == 3 * 99_999 * 100_000 / 2
    assert len(whole.sha256) == 64


def test_precision_follows_the_column():
    """Exact below 2^24 in float32 (IEEE 754); micro-seconds since 1970 and close steps on an offset need 64 bits."""
    rows = range(2000)
    text = "time_us,count,big,lat,gyro\n" + "".join(
        f"{1_700_000_000_000_000 + 125 * row},{row},{2**24 + row},{47.1234567 + 1e-7 * row:.7f},{row * 0.37 % 9:.4f}\n"
        for row in rows
    )
    table = read(text)
    kinds = {column.name: str(column.numbers.dtype) for column in table.columns}
    assert kinds == {
        "time_us": "float64",
        "count": "float32",
        "big": "float64",
        "lat": "float64",
        "gyro": "float32",
    }
    assert table.columns[0].numbers[-1] == 1_700_000_000_000_000 + 125 * 1999
    assert not any(column.numbers.flags.writeable for column in table.columns)


def test_progress_ends_at_one():
    told: list[float] = []
    read(PLAIN, progress=told.append)
    assert told[-1] == 1.0
