"""Laws of reading text: what any writer wrote comes back; the reference reader is Python's csv module."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest
from flightlog_tools import facts, read, values
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asflown.formats.flightlog import delimited

NUMBERS = st.floats(-1e9, 1e9).map(lambda value: float(f"{value:.6g}"))
WORDS = st.sampled_from(["hold", "free", "go home", "a, b", 'he said "up"', "étage", ""])
ROWS = st.lists(st.tuples(NUMBERS, NUMBERS | st.none(), WORDS, NUMBERS), min_size=2, max_size=40)
HEADER = ["time [s]", "gyro x (deg/s)", "mode", "Voltage/V"]


def close(made: list[object], wanted: list[float | None]) -> bool:
    """Equal to 24 bits, missing where missing."""
    return all(
        (one is None and other is None)
        or (one is not None and other is not None and math.isclose(one, other, rel_tol=1.3e-7, abs_tol=1e-30))
        for one, other in zip(made, wanted, strict=True)
    )


@given(
    rows=ROWS,
    sign=st.sampled_from([",", ";", "\t", "|"]),
    end=st.sampled_from(["\n", "\r\n"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
)
def test_any_dialect_of_the_csv_module(rows, sign, end, quoting, encoding):
    written = io.StringIO(newline="")
    writer = csv.writer(written, delimiter=sign, lineterminator=end, quoting=quoting)
    writer.writerow(HEADER)
    writer.writerows(rows)
    table = read(written.getvalue().encode(encoding))

    reference = list(csv.reader(io.StringIO(written.getvalue(), newline=""), delimiter=sign))[1:]
    assert table.rows == len(reference)
    assert [(column.name, column.unit) for column in table.columns] == [
        ("time", "s"),
        ("gyro x", "deg/s"),
        ("mode", None),
        ("Voltage", "V"),
    ]
    made = values(table)
    for place, name in ((0, "time"), (1, "gyro x"), (3, "Voltage")):
        assert close(made[name], [float(row[place]) if row[place] else None for row in reference])
    words = [row[2] for row in reference]
    assert made["mode"] == (words if any(words) else [None] * len(words))
    assert set(facts(table)) <= {"encoding", "not UTF-8"}


@given(
    rows=st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=2, max_size=40),
    sign=st.sampled_from([";", "\t"]),
)
def test_decimal_commas(rows, sign):
    def cell(value: float) -> str:
        return f"{value:.3f}".replace(".", ",")

    text = sign.join("abc") + "\n" + "".join(sign.join(map(cell, row)) + "\n" for row in rows)
    made = values(read(text))
    for place, name in enumerate("abc"):
        assert close(made[name], [float(f"{row[place]:.3f}") for row in rows])


@given(rows=st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=2, max_size=40), data=st.data())
def test_blanks_of_any_length(rows, data):
    def gap() -> str:
        return data.draw(st.text(" ", min_size=1, max_size=4))

    text = "a b c\n" + "".join(gap() + gap().join(map(repr, row)) + gap() + "\n" for row in rows)
    made = values(read(text))
    for place, name in enumerate("abc"):
        assert close(made[name], [row[place] for row in rows])


@pytest.fixture
def small_blocks(monkeypatch):
    monkeypatch.setattr(delimited, "BLOCK", 200)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=st.lists(
        st.sampled_from(
            ["{n},1.5,x", "{n},,y", "{n},-,", "{n},2.5", "{n},2,z,4", "", "# note", "t,a,b", "{n},bad,x"]
        ),
        min_size=1,
        max_size=60,
    ),
    is_ended=st.booleans(),
)
def test_where_blocks_are_cut_does_not_matter(small_blocks, rows, is_ended):
    text = "t,a,b\n0,1.5,x\n1,2.5,y\n2,2.5,y\n3,2.5,z\n"
    text += "\n".join(row.format(n=number + 4) for number, row in enumerate(rows)) + (
        "\n" if is_ended else ""
    )
    small = read(text)
    delimited.BLOCK = 1 << 20
    whole = read(text)
    delimited.BLOCK = 200
    assert small.rows == whole.rows
    assert [(f.kind, f.statement) for f in small.facts] == [(f.kind, f.statement) for f in whole.facts]
    for one, other in zip(small.columns, whole.columns, strict=True):
        assert one.words == other.words
        if one.numbers is not None:
            assert np.array_equal(one.numbers, other.numbers, equal_nan=True)


@given(rows=st.lists(st.tuples(NUMBERS, NUMBERS), min_size=3, max_size=30), places=st.data())
def test_a_fact_counts_what_was_broken(rows, places):
    """Every unreadable cell put in is counted, and nothing else changes."""
    lines = [[repr(one), repr(other)] for one, other in rows]
    broken = places.draw(st.sets(st.integers(0, len(rows) - 1), max_size=(len(rows) - 1) // 2))
    for row in broken:
        lines[row][1] = "broken!"
    table = read("a,b\n" + "".join(",".join(line) + "\n" for line in lines))
    made = values(table)
    assert close(made["a"], [row[0] for row in rows])
    if 2 * len(broken) < len(rows):
        assert close(made["b"], [None if at in broken else row[1] for at, row in enumerate(rows)])
        assert facts(table).get("unreadable cells", 0) == len(broken)
        if broken:
            assert f"line {min(broken) + 2}" in table.facts[-1].statement
