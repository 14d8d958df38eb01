"""Layouts written and read again: nothing lost; faults told with their lines."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.layout import Assignment, Doubt, Layout, Origin
from asflown.core.signals import SIGNALS
from asflown.errors import InputError
from asflown.formats.layout_toml import read_layout, write_layout

TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=30)
SIGNAL_NAMES = [s.name.replace(".n", ".3") if s.name.endswith(".n") else s.name for s in SIGNALS]
REAL = st.floats(-1e30, 1e30, allow_nan=False)


@st.composite
def layouts(draw):
    signals = draw(st.lists(st.sampled_from(SIGNAL_NAMES), unique=True, max_size=8))
    columns = draw(st.lists(TEXT, unique=True, min_size=len(signals), max_size=len(signals)))
    lines = tuple(
        Assignment(
            column,
            signal,
            draw(TEXT),
            draw(REAL.filter(lambda f: f != 0)),
            draw(REAL),
            draw(st.sampled_from(list(Origin))),
            draw(st.floats(0, 1)),
            tuple(draw(st.lists(TEXT, max_size=3))),
        )
        for column, signal in zip(columns, signals, strict=True)
    )
    doubts = tuple(
        Doubt(draw(TEXT), draw(TEXT), tuple(draw(st.lists(TEXT, max_size=3))), draw(TEXT))
        for _ in range(draw(st.integers(0, 2)))
    )
    return Layout(
        draw(st.from_regex(r"[0-9a-f]{16}", fullmatch=True)),
        lines,
        tuple(draw(st.lists(TEXT, max_size=4))),
        doubts,
        draw(st.booleans()),
        draw(st.none() | TEXT),
    )


@given(layouts())
def test_what_is_written_reads_back_equal(layout):
    assert read_layout(write_layout(layout), "layout.toml") == layout


def _text(*lines, head='fingerprint = "0123456789abcdef"\n'):
    return head + "".join(f"[[column]]\n{line}\n" for line in lines)


def test_a_line_without_factor_takes_it_from_the_unit():
    read = read_layout(_text('column = "g"\nsignal = "rate.roll"\nunit = "dps"'), "l.toml")
    assert math.isclose(read.assignments[0].factor, math.pi / 180)
    read = read_layout(_text('column = "t"\nsignal = "air_temperature"\nunit = "degC"'), "l.toml")
    assert (20 - read.assignments[0].offset) * read.assignments[0].factor == pytest.approx(293.15)


@pytest.mark.parametrize(
    "text, told",
    [
        (_text('column = "g"\nsignal = "rate.roll"\nunit = "furlong"'), "no unit of rate.roll"),
        (_text('column = "g"\nsignal = "sway.roll"\nunit = "deg/s"'), "no signal asflown knows"),
        (_text('column = "g"\nsignal = "rate.roll"\nunit = "deg/s"\nfactor = 0'), "not 0"),
        (_text('column = "g"\nsignal = "rate.roll"\nunit = "deg/s"\nfactor = nan'), "nan"),
        (_text('column = "g"\nsignal = "rate.roll"\nunit = "raw counts"'), "no unit of rate.roll"),
        (
            _text('column = "g"\nsignal = "time"\nunit = "s"', 'column = "h"\nsignal = "time"\nunit = "s"'),
            "the signal 'time' stands in more than one line",
        ),
        (
            _text(
                'column = "g"\nsignal = "time"\nunit = "s"', 'column = "g"\nsignal = "altitude"\nunit = "m"'
            ),
            "the column 'g' stands in more than one line",
        ),
        (_text(head='fingerprint = "abc"\n'), "fingerprint"),
    ],
)
def test_faults_are_told(text, told):
    with pytest.raises(InputError) as caught:
        read_layout(text, "l.toml")
    assert told in str(caught.value)


def test_every_fault_at_once_with_its_line():
    text = _text(
        'column = "g"\nsignal = "rate.roll"\nunit = "furlong"', 'column = "h"\nsignal = "time"\nunit = "V"'
    )
    with pytest.raises(InputError) as caught:
        read_layout(text, "l.toml")
    assert [fault.where for fault in caught.value.faults] == [
        "l.toml:5 column[1].unit",
        "l.toml:9 column[2].unit",
    ]
