"""Both renderers draw the description's numbers, and the same ones."""

from __future__ import annotations

import json
import math
from xml.etree import ElementTree

import numpy as np
import plotly.graph_objects as go
import pytest
from drawn_again import figures, from_plotly, from_print, same
from hypothesis import HealthCheck, given, settings

from asflown.figures.drawn_plotly import container, plotly_json, plotly_script
from asflown.figures.drawn_print import draw, svg
from asflown.figures.figure import Axis, Figure, Form, Look, Mark, Series, Shading
from asflown.figures.framing import frame_of, is_drawable

GAIN = Figure(
    "Roll, rate over command: gain",
    Axis("frequency", "Hz", is_log=True),
    Axis("gain", "dB"),
    (
        Series(
            "before",
            (0.5, 1.0, 2.0, 4.0, 8.0, 16.0),
            (0.0, 0.1, math.nan, -0.5, -3.0, -9.0),
            Look.BEFORE,
            (-0.1, 0.0, math.nan, -0.7, -3.5, -20.0),
            (0.1, 0.2, math.nan, -0.3, -2.5, 0.0),
            (False, False, False, False, False, True),
            "too little command to show it",
        ),
        Series("after", (0.5, 1.0, 16.0), (0.0, 0.2, -8.0), Look.AFTER, (-0.1, 0.1, -9.0), (0.1, 0.3, -7.0)),
    ),
    (Mark("gain of one", y=0.0), Mark("bandwidth", x=6.0)),
    "Gain before and after.",
)
MAP = Figure(
    "Campbell diagram",
    Axis("rotor speed", "rev/s"),
    Axis("frequency", "Hz"),
    (Series("order 1", (100.0, 150.0, 200.0), (100.0, 150.0, 200.0)),),
    caption="A map.",
    shading=Shading(
        (100.0, 150.0, 200.0),
        (50.0, 150.0),
        ((-50.0, -40.0, None), (-60.0, -20.0, -30.0)),
        "level",
        "dB",
        "not flown",
    ),
)
MOTORS = Figure(
    "Motors",
    Axis("motor", "number", ticks=((1.0, "1"), (2.0, "2"))),
    Axis("command", "%"),
    (Series("motor", (1.0, 2.0), (0.5, -0.5), low=(0.4, -0.7), high=(0.6, -0.4), form=Form.POINTS),),
)


def test_plotly_shows_the_numbers_of_the_description():
    rows = from_plotly(plotly_json(GAIN))
    before, after = GAIN.series
    assert rows[0, "line"] == [(x, y) for x, y in zip(before.x, before.y, strict=True) if y == y][:-1]
    assert rows[0, "greyed"] == [(8.0, -3.0), (16.0, -9.0)]
    assert rows[0, "band"] == [
        *[(0.5, 0.1), (1.0, 0.2), (1.0, 0.0), (0.5, -0.1)],
        *[(4.0, -0.3), (8.0, -2.5), (8.0, -3.5), (4.0, -0.7)],
    ]
    assert rows[0, "greyed band"] == [(16.0, 0.0), (16.0, -20.0)]
    assert rows[1, "line"] == list(zip(after.x, after.y, strict=True))


@pytest.mark.parametrize("figure", [GAIN, MOTORS, MAP], ids=["gain", "motors", "map"])
def test_both_draw_the_same_numbers(figure):
    same(from_plotly(plotly_json(figure)), from_print(draw(figure)))


def test_intervals_of_points_are_drawn_by_both():
    rows = from_plotly(plotly_json(MOTORS))
    assert rows[0, "points"] == [(1.0, 0.5), (2.0, -0.5)]
    assert np.allclose(rows[0, "interval"], [(1, 0.4), (1, 0.6), (2, -0.7), (2, -0.4)])


def test_both_draw_the_same_map():
    assert MAP.shading is not None
    heat = plotly_json(MAP)["data"][0]
    assert (tuple(heat["x"]), tuple(heat["y"])) == (MAP.shading.x, MAP.shading.y)
    assert tuple(tuple(row) for row in heat["z"]) == MAP.shading.values
    mesh = next(one for one in draw(MAP).axes[0].collections if one.get_gid() == "map")
    known = [[math.nan if v is None else v for v in row] for row in MAP.shading.values]
    assert np.array_equal(np.ma.filled(mesh.get_array(), math.nan), known, equal_nan=True)
    assert mesh.get_cmap().name == "cividis"
    assert heat["colorscale"] == "Cividis"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(figures())
def test_any_figure_is_drawn_alike_and_whole(figure):
    made = plotly_json(figure)
    json.dumps(made, allow_nan=False)
    go.Figure({"data": made["data"], "layout": made["layout"]})
    rows = from_plotly(made)
    same(rows, from_print(draw(figure)))
    for number, one in enumerate(figure.series):
        wanted = {
            (x, y)
            for x, y in zip(one.x, one.y, strict=True)
            if is_drawable(x, figure.x) and is_drawable(y, figure.y)
        }
        found = [p for part in ("line", "greyed", "points") for p in rows.get((number, part), [])]
        assert len(set(found)) == len({(float(f"{x:.7g}"), float(f"{y:.7g}")) for x, y in wanted})
    frame = frame_of(figure)
    for over in (frame.x, frame.y):
        assert over.low < over.high
        assert not over.is_log or over.low > 0


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(figures())
def test_any_figure_prints(figure):
    ElementTree.fromstring(svg(figure))


@pytest.mark.parametrize("figure", [GAIN, MOTORS, MAP], ids=["gain", "motors", "map"])
def test_a_printed_figure_is_the_same_every_time_and_tells_itself(figure):
    text = svg(figure)
    assert text == svg(figure)
    tree = ElementTree.fromstring(text)
    assert tree.get("role") == "img"
    space = "{http://www.w3.org/2000/svg}"
    assert tree.findtext(f"{space}title") == figure.title
    assert figure.caption in (tree.findtext(f"{space}desc") or "")
    assert "<script" not in text
    outside = {part.split('"')[0] for part in text.split('href="')[1:]}
    assert all(name.startswith(("#", "data:image/png")) for name in outside), outside


def test_roles_are_told_without_colour():
    traces = {(t["meta"]["series"], t["meta"]["part"]): t for t in plotly_json(GAIN)["data"]}
    assert traces[0, "line"]["line"] == {"color": "#0072B2", "width": 2.0, "dash": "solid"}
    assert traces[1, "line"]["line"]["color"] == "#D55E00"
    assert traces[1, "line"]["line"]["dash"] == "11px,5px"
    assert "fillpattern" not in traces[0, "band"]
    assert traces[1, "band"]["fillpattern"]["shape"] == "/"
    artists = {a.get_gid(): a for a in [*draw(GAIN).axes[0].lines, *draw(GAIN).axes[0].collections]}
    assert artists["0 line"].is_dashed() is False
    assert artists["1 line"].is_dashed() is True
    assert artists["1 band"].get_hatch()
    assert not artists["0 band"].get_hatch()


def test_the_mode_bar_sends_nothing_and_the_figure_is_reached_by_keyboard():
    bar = plotly_json(GAIN)["config"]
    assert bar["displaylogo"] is False
    assert bar["modeBarButtons"] == [["zoom2d", "pan2d", "resetScale2d", "toImage"]]
    assert not any(bar[word] for word in ("showSendToCloud", "showLink", "sendData", "plotlyServerURL"))
    assert bar["toImageButtonOptions"]["format"] == "svg"
    assert container(GAIN)["tabindex"] == "0"
    assert "Gain before and after." in container(GAIN)["aria-label"]


def test_the_grey_is_worded_and_the_axes_have_units():
    layout = plotly_json(GAIN)["layout"]
    assert layout["xaxis"]["title"]["text"] == "frequency (Hz)"
    words = [one["text"] for one in layout["annotations"]]
    assert "Grey: too little command to show it." in words
    assert {"before", "after", "gain of one", "bandwidth"} <= set(words)
    assert [shape["name"] for shape in layout["shapes"]] == ["gain of one", "bandwidth"]


def test_the_script_is_the_one_that_the_package_brings():
    script = plotly_script().read_bytes()
    assert len(script) > 1_000_000
    assert b"plotly.js v" in script[:300]


def test_too_narrow_a_print_is_refused():
    with pytest.raises(ValueError, match="80 mm"):
        svg(GAIN, width_mm=40)
