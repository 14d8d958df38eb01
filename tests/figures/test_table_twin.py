"""The table that stands for a figure."""

from __future__ import annotations

from drawn_again import figures
from hypothesis import given, settings
from test_drawn_alike import GAIN, MAP, MOTORS

from asflown.figures.figure import Axis, Figure, Series
from asflown.figures.table import table_of, tables_of


def test_it_holds_every_point_of_a_short_figure():
    table = table_of(GAIN)
    assert table.columns == ("series", "frequency (Hz)", "gain (dB)", "low", "high", "remark")
    assert len(table.rows) == 9
    assert table.rows[2] == ("before", "2", "unknown", "unknown", "unknown", "")
    assert table.rows[5][-1] == "too little command to show it"
    assert table.says == (
        "Marked: gain of one at 0 dB; bandwidth at 6 Hz. Grey: too little command to show it."
    )
    assert table_of(MOTORS).rows[0] == ("1", "0.5", "0.4", "0.6")


def test_a_long_one_is_thinned_and_keeps_ends_and_peak():
    x = tuple(float(i) for i in range(1000))
    y = tuple(-abs(v - 777.0) for v in x)
    figure = Figure("Long", Axis("time", "s"), Axis("y", "V"), (Series("one", x, y),))
    table = table_of(figure)
    assert len(table.rows) <= 24
    assert table.says == f"Table of {len(table.rows)} of 1000 points."
    assert (table.rows[0][0], table.rows[-1][0]) == ("0", "999")
    assert ("777", "0") in table.rows
    assert len(table_of(figure, most=None).rows) == 1000


def test_a_map_is_a_table_of_its_cells():
    map_, lines = tables_of(MAP)
    assert map_.columns == ("frequency (Hz)", "at 100 rev/s", "at 150 rev/s", "at 200 rev/s")
    assert map_.rows == (("50", "-50", "-40", "unknown"), ("150", "-60", "-20", "-30"))
    assert map_.says == "Table of cells in dB. Left as paper: not flown."
    assert lines.rows[0] == ("100", "100")
    assert table_of(MAP) == map_


@settings(max_examples=60, deadline=None)
@given(figures())
def test_every_row_is_as_wide_as_the_head(figure):
    for table in tables_of(figure):
        assert {len(row) for row in table.rows} <= {len(table.columns)}
