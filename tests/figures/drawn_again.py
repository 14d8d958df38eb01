"""Numbers read back from what was drawn, and figures made at random."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st

from asflown.figures.figure import Axis, Figure, Form, Look, Mark, Series

Rows = dict[tuple[int, str], list[tuple[float, float]]]


def from_plotly(made: dict) -> Rows:
    """Points of every part of every series, in order, gaps left out."""
    rows: Rows = {}
    for trace in made["data"]:
        if trace["type"] != "scatter":
            continue
        meta = trace["meta"]
        points = [(x, y) for x, y in zip(trace["x"], trace["y"], strict=True) if x is not None]
        rows.setdefault((meta["series"], meta["part"]), []).extend(points)
        if "error_y" in trace:
            errors = trace["error_y"]
            for (x, y), up, down in zip(points, errors["array"], errors["arrayminus"], strict=True):
                if up is not None and down is not None:
                    rows.setdefault((meta["series"], "interval"), []).extend([(x, y - down), (x, y + up)])
    return rows


def from_print(drawn) -> Rows:
    """The same from matplotlib's artists."""
    rows: Rows = {}
    axes = drawn.axes[0]
    for artist in [*axes.lines, *axes.collections]:
        number, _, part = (artist.get_gid() or "").partition(" ")
        if not part:
            continue
        if hasattr(artist, "get_xydata"):
            points = [tuple(map(float, point)) for point in artist.get_xydata()]
        else:
            points = _outline(artist)
        rows.setdefault((int(number), part), []).extend(points)
    return rows


def _outline(artist) -> list[tuple[float, float]]:
    """A filled band's outline is low to and fro; what plotly draws is high forth and low back."""
    made = []
    for path in artist.get_paths():
        corners = path.vertices[:-1]
        half = (len(corners) - 2) // 2
        low, high = corners[1 : 1 + half], corners[2 + half : 2 + 2 * half][::-1]
        made += [tuple(map(float, p)) for p in [*high, *low[::-1]]]
    return made


def same(left: Rows, right: Rows) -> None:
    assert left.keys() == right.keys()
    for key, points in left.items():
        assert len(points) == len(right[key]), key
        assert np.allclose(points, right[key], rtol=2e-6, atol=1e-290), key


NUMBERS = st.one_of(
    st.floats(-1e6, 1e6).filter(lambda v: v == 0 or abs(v) > 1e-6),
    st.floats(1e-3, 1e3),
    st.sampled_from([math.nan, math.inf, -math.inf, 0.0, -1.0]),
)


@st.composite
def series(draw):
    count = draw(st.integers(0, 12))

    def numbers(of=NUMBERS):
        return tuple(draw(st.lists(of, min_size=count, max_size=count)))

    y = numbers()
    low = high = ()
    if draw(st.booleans()):
        width = numbers(st.floats(0, 10))
        low = tuple(v - w for v, w in zip(y, width, strict=True))
        high = tuple(v + w for v, w in zip(y, width, strict=True))
    greyed = numbers(st.booleans()) if draw(st.booleans()) else ()
    form = draw(st.sampled_from(Form))
    return Series(
        draw(st.sampled_from(["one", "two & <three>", "a name that is much longer than a row can be made"])),
        tuple(sorted(numbers(st.floats(-5, 500).filter(lambda v: v == 0 or abs(v) > 1e-6)))),
        y,
        draw(st.sampled_from(Look)),
        low,
        high,
        greyed,
        "too little of it",
        form,
    )


@st.composite
def figures(draw):
    axes = [Axis(name, "s", draw(st.booleans())) for name in ("along", "across")]
    places = st.one_of(st.none(), st.floats(0.1, 50))
    marks = draw(st.lists(st.builds(Mark, st.just("a mark"), places, places), max_size=3))
    several = draw(st.lists(series(), max_size=4))
    return Figure("A figure", axes[0], axes[1], tuple(several), tuple(marks), "What is seen.")
