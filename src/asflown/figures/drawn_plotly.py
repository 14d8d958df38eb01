"""A figure for the page: the plain data, layout and configuration that plotly.js draws."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from asflown.figures.figure import Axis, Figure, Form, Mark, Series, Shading
from asflown.figures.framing import (
    Frame,
    Range,
    Run,
    band,
    frame_of,
    has_zero_line,
    is_drawable,
    joined,
    notes_of,
    runs,
)
from asflown.figures.labels import Label, labels_of
from asflown.figures.looks import GREYED, HAIR, INK, MAP, PENCIL, RULE, SHEET, Pen, pens

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Plotly = dict[str, Any]

FONT = '"Atkinson Hyperlegible Next", "Atkinson Hyperlegible", system-ui, sans-serif'
#: px: type, height of a figure, its margins, and the narrowest it is laid out for.
SIZE, SMALL, HEIGHT, NARROWEST = 13, 12, 360, 320
_LEFT, _RIGHT, _TOP, _BOTTOM, _ROW = 58, 10, 34, 48, 16
_WRAP = 46
#: Figures a number is written with.
_FIGURES = 7


def plotly_json(figure: Figure) -> Plotly:
    """What plotly.js draws a figure from: ``data``, ``layout`` and ``config``, all plain JSON.

    Notes
    -----
    Every trace says in ``meta`` which ``series`` it shows (its number) and which ``part`` of it: ``line``,
    ``greyed``, ``band``, ``greyed band``, ``points`` or ``casing`` (the pale edge of a line over a map).
    """
    frame = frame_of(figure)
    data: list[Plotly] = [] if figure.shading is None else [_map(figure)]
    made = pens(figure.series)
    for part in (_bands, _lines):
        for number, (one, pen) in enumerate(zip(figure.series, made, strict=True)):
            data += part(number, one, pen, figure, frame)
    return {"data": data, "layout": _layout(figure, frame, made), "config": config(figure)}


def config(figure: Figure) -> Plotly:
    """The mode bar with zoom, pan, reset and a download as SVG; nothing that leaves the machine."""
    return {
        "displaylogo": False,
        "displayModeBar": True,
        "modeBarButtons": [["zoom2d", "pan2d", "resetScale2d", "toImage"]],
        "responsive": True,
        "scrollZoom": False,
        "doubleClick": "reset",
        "showSendToCloud": False,
        "showEditInChartStudio": False,
        "showLink": False,
        "sendData": False,
        "plotlyServerURL": "",
        "topojsonURL": "",
        "toImageButtonOptions": {"format": "svg", "filename": figure.file_name},
    }


def container(figure: Figure) -> dict[str, str]:
    """Attributes of the element that holds the figure: reached by keyboard, named for screen readers."""
    return {"tabindex": "0", "role": "group", "aria-label": f"Figure: {figure.title}. {figure.caption}"}


def plotly_script() -> Traversable:
    """The script the plotly package brings along, for the server to send; nothing of it is copied.

    Raises
    ------
    FileNotFoundError
        When the package is not there, or brings none.
    """
    from importlib.resources import files

    try:
        script = files("plotly").joinpath("package_data", "plotly.min.js")
    except ModuleNotFoundError as error:
        raise FileNotFoundError("plotly is not installed") from error
    if not script.is_file():
        raise FileNotFoundError("plotly brings no plotly.min.js")
    return script


def _number(value: float) -> float | None:
    return float(f"{value:.{_FIGURES}g}") if math.isfinite(value) else None


def _numbers(values: Iterable[float]) -> list[float | None]:
    return [_number(value) for value in values]


def _map(figure: Figure) -> Plotly:
    shading = figure.shading
    assert shading is not None
    return {
        "type": "heatmap",
        "meta": {"series": None, "part": "map"},
        "x": _numbers(shading.x),
        "y": _numbers(shading.y),
        "z": [[None if v is None else _number(v) for v in row] for row in shading.values],
        "colorscale": MAP.capitalize(),
        **_ends(shading),
        "hoverongaps": False,
        "hovertemplate": f"%{{x}} {figure.x.unit}, %{{y}} {figure.y.unit}: %{{z:.3~g}}<extra></extra>",
        "colorbar": {
            "orientation": "h",
            "x": 0.5,
            "y": 1.0,
            "yanchor": "bottom",
            "ypad": 4,
            "len": 1.0,
            "thickness": 10,
            "outlinewidth": 1,
            "outlinecolor": RULE,
            "title": {"text": _wrapped(f"{shading.name} ({shading.unit})"), "side": "top"},
            "tickfont": {"size": SMALL},
        },
    }


def _ends(shading: Shading) -> Plotly:
    return {} if shading.ends is None else dict(zip(("zmin", "zmax"), _numbers(shading.ends), strict=True))


def _trace(number: int, part: str, one: Series, **more: Any) -> Plotly:
    return {
        "type": "scatter",
        "name": one.name,
        "meta": {"series": number, "part": part},
        "showlegend": False,
        "connectgaps": False,
        **more,
    }


def _bands(number: int, one: Series, pen: Pen, figure: Figure, frame: Frame) -> Iterator[Plotly]:
    """One closed outline for each run, all of one greyness in a trace."""
    if not one.low or one.form is Form.POINTS:
        return
    for is_greyed, part in ((False, "band"), (True, "greyed band")):
        x: list[float | None] = []
        y: list[float | None] = []
        for run in runs(one, figure):
            rows = band(one, range(run.first, run.last + 1), figure, frame.y.low)
            if run.is_greyed is not is_greyed or not rows:
                continue
            x += [*([None] if x else []), *_numbers(one.x[i] for i, _, _ in [*rows, *reversed(rows)])]
            y += [*([None] if y else []), *_numbers(high for _, _, high in rows)]
            y += _numbers(low for _, low, _ in reversed(rows))
        if x:
            yield _trace(number, part, one, x=x, y=y, hoverinfo="skip", **_filled(pen, is_greyed))


def _filled(pen: Pen, is_greyed: bool) -> Plotly:
    colour = GREYED if is_greyed else pen.colour
    line = {"color": _faint(colour, 0.3 if is_greyed else 0.6), "width": 0.8}
    made: Plotly = {"mode": "lines", "fill": "toself", "line": line}
    if is_greyed or not pen.hatch:
        return made | {"fillcolor": _faint(colour, 0.2)}
    pattern = {"shape": pen.hatch, "fgcolor": _faint(colour, 0.7), "bgcolor": "rgba(0,0,0,0)", "size": 7}
    return made | {"fillcolor": _faint(colour, 0.2), "fillpattern": pattern | {"solidity": 0.14}}


def _faint(colour: str, share: float) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share})"


def _lines(number: int, one: Series, pen: Pen, figure: Figure, frame: Frame) -> Iterator[Plotly]:
    found = list(runs(one, figure))
    hover = _hover(one, figure)
    if one.form is Form.POINTS:
        yield from _row_of_points(number, one, pen, found, hover, figure.y)
        return
    if figure.shading is not None:
        casing = {"color": _faint(SHEET, 0.85), "width": pen.width + 2.4}
        yield _line(number, "casing", one, found, figure) | {"line": casing, "hoverinfo": "skip"}
    for is_greyed, part in ((False, "line"), (True, "greyed")):
        of = [run for run in found if run.is_greyed is is_greyed]
        if of:
            line = {"color": GREYED if is_greyed else pen.colour, "width": 1.2 if is_greyed else pen.width}
            line["dash"] = _dash(pen)
            yield _line(number, part, one, of, figure) | {"line": line, "hovertemplate": hover}


def _line(number: int, part: str, one: Series, of: Sequence[Run], figure: Figure) -> Plotly:
    """Runs parted by gaps; a point alone is marked, since a line does not show it."""
    x: list[float | None] = []
    y: list[float | None] = []
    sizes: list[float] = []
    for run in of:
        places = joined(one, run, figure)
        x += [*([None] if x else []), *_numbers(one.x[i] for i in places)]
        y += [*([None] if y else []), *_numbers(one.y[i] for i in places)]
        sizes += [*([0.0] if sizes else []), *([5.0] if len(places) == 1 else [0.0] * len(places))]
    made = _trace(number, part, one, x=x, y=y, mode="lines")
    if any(sizes):
        made |= {"mode": "lines+markers", "marker": {"size": sizes, "color": INK}}
    return made


def _row_of_points(
    number: int, one: Series, pen: Pen, found: Sequence[Run], hover: str, axis: Axis
) -> Iterator[Plotly]:
    places = [i for run in found for i in range(run.first, run.last + 1)]
    if not places:
        return
    made = _trace(number, "points", one, mode="markers", hovertemplate=hover)
    made |= {"x": _numbers(one.x[i] for i in places), "y": _numbers(one.y[i] for i in places)}
    made["marker"] = {"size": 9, "color": pen.colour, "symbol": "diamond" if pen.hatch else "circle"}
    if one.words:
        made["text"] = [one.words[i] for i in places]
    if one.low:
        # an interval with an end that has no place on the axis (0 on a logarithmic one) is not drawn
        whole = {i for i in places if is_drawable(one.low[i], axis) and is_drawable(one.high[i], axis)}
        made["error_y"] = {
            "type": "data",
            "symmetric": False,
            "array": _numbers(one.high[i] - one.y[i] if i in whole else math.nan for i in places),
            "arrayminus": _numbers(one.y[i] - one.low[i] if i in whole else math.nan for i in places),
            "color": pen.colour,
            "thickness": 1.6,
            "width": 5,
        }
    yield made


def _hover(one: Series, figure: Figure) -> str:
    if one.words:
        return "%{text}<extra></extra>"
    x, y = ("" if axis.unit == "1" else f" {axis.unit}" for axis in (figure.x, figure.y))
    return f"{one.name}: %{{y:.4~g}}{y} at %{{x:.4~g}}{x}<extra></extra>"


def _dash(pen: Pen) -> str:
    return ",".join(f"{length:g}px" for length in pen.dash) or "solid"


def _layout(figure: Figure, frame: Frame, made: Sequence[Pen]) -> Plotly:
    notes = [row for note in notes_of(figure) for row in _wrapped(note).split("<br>")]
    names = max((len(words) for _, words in figure.y.ticks), default=4)
    left = 14 + 7 * names if figure.y.is_named else _LEFT + 5 * (names - 4)
    top = _TOP + (52 if figure.shading is not None else 0)
    bottom = _BOTTOM + _ROW * len(notes)
    room = (NARROWEST - left - _RIGHT, HEIGHT - _TOP - _BOTTOM)
    annotations = [_said(label, frame, made) for label in labels_of(figure, *room, SMALL)]
    if notes:
        annotations.append(_below(notes, left))
    return {
        "autosize": True,
        "height": HEIGHT + (top - _TOP) + (bottom - _BOTTOM),
        "margin": {"l": left, "r": _RIGHT, "t": top, "b": bottom, "pad": 0},
        "font": {"family": FONT, "size": SIZE, "color": INK},
        "paper_bgcolor": SHEET,
        "plot_bgcolor": SHEET,
        "showlegend": False,
        "hovermode": "closest",
        "dragmode": False,
        "modebar": {"bgcolor": "rgba(0,0,0,0)", "color": PENCIL, "activecolor": INK, "orientation": "h"},
        "xaxis": _axis(figure.x, frame.x),
        "yaxis": _axis(figure.y, frame.y) | {"zeroline": has_zero_line(figure)},
        "shapes": [_mark(mark) for mark in figure.marks if (mark.x is None) is not (mark.y is None)],
        "annotations": annotations,
    }


def _axis(axis: Axis, over: Range) -> Plotly:
    ends = (math.log10(over.low), math.log10(over.high)) if axis.is_log else (over.low, over.high)
    made: Plotly = {
        "title": {"text": "" if axis.is_named else axis.label, "standoff": 6, "font": {"size": SIZE}},
        "type": "log" if axis.is_log else "linear",
        "range": _numbers(ends),
        "showgrid": not axis.ticks,
        "gridcolor": HAIR,
        "gridwidth": 0.6,
        "zeroline": False,
        "zerolinecolor": INK,
        "zerolinewidth": 1,
        "showline": True,
        "linecolor": RULE,
        "mirror": True,
        "ticks": "outside",
        "ticklen": 4,
        "tickcolor": RULE,
        "tickfont": {"size": SMALL},
        "exponentformat": "none",
        "automargin": False,
    }
    if axis.ticks:
        return made | {
            "tickmode": "array",
            "tickvals": _numbers(at for at, _ in axis.ticks),
            "ticktext": [words for _, words in axis.ticks],
        }
    if axis.is_log:
        return made | {"tickformat": ".4~r", "nticks": 8}
    if axis.unit == "deg" and over.high - over.low > 120.0:
        made |= {"tick0": 0, "dtick": 45 if over.high - over.low <= 400.0 else 90}
    return made


def _mark(mark: Mark) -> Plotly:
    """A line right across the plot."""
    line = {"color": PENCIL, "width": 1.4, "dash": "7px,3px,2px,3px"}
    if mark.x is not None:
        ends: Plotly = {"x0": _number(mark.x), "x1": _number(mark.x), "y0": 0, "y1": 1, "yref": "paper"}
    else:
        assert mark.y is not None
        ends = {"y0": _number(mark.y), "y1": _number(mark.y), "x0": 0, "x1": 1, "xref": "paper"}
    return {"type": "line", "layer": "above", "line": line, "name": mark.words, **ends}


def _said(label: Label, frame: Frame, made: Sequence[Pen]) -> Plotly:
    """Words beside a line: an annotation, whose place on a log axis is the logarithm."""
    x, y = (
        math.log10(value) if over.is_log else value
        for value, over in ((label.x, frame.x), (label.y, frame.y))
    )
    shift = {"bottom": 3, "top": -3, "middle": 0}[label.along]
    return {
        "x": _number(x),
        "y": _number(y),
        "text": "<br>".join(_plain_text(row) for row in label.rows),
        "showarrow": False,
        "xanchor": label.across,
        "yanchor": label.along,
        "yshift": shift,
        "xshift": {"left": 3, "right": -3, "center": 0}[label.across],
        "textangle": -90 if label.is_turned else 0,
        "align": label.across,
        "bgcolor": _faint(SHEET, 0.7),
        "borderpad": 0,
        "font": {"size": SMALL, "color": PENCIL if label.series is None else made[label.series].colour},
    }


def _below(rows: Sequence[str], left: int) -> Plotly:
    return {
        "xref": "paper",
        "yref": "paper",
        "x": 0,
        "y": 0,
        "xshift": -left + 6,
        "yshift": -_BOTTOM + 4,
        "xanchor": "left",
        "yanchor": "top",
        "align": "left",
        "text": "<br>".join(rows),
        "showarrow": False,
        "font": {"size": SMALL, "color": PENCIL},
    }


def _wrapped(text: str, most: int = _WRAP) -> str:
    import textwrap

    return "<br>".join(_plain_text(row) for row in textwrap.wrap(text, most))


def _plain_text(text: str) -> str:
    """Text in which plotly finds no markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
