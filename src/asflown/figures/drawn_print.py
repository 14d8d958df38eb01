"""A figure for print and for a file of its own: SVG by matplotlib, safe in black and white.

Type is DejaVu Sans, which matplotlib carries: it cannot read the woff2 faces of the pages. Letters are drawn
as outlines, so that the file looks alike everywhere; title and caption stand in it as text for those who
listen.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from asflown.figures.figure import Axis, Figure, Form, Series
from asflown.figures.framing import (
    Frame,
    Range,
    band,
    edges,
    frame_of,
    has_zero_line,
    is_drawable,
    joined,
    notes_of,
    round_places,
    runs,
)
from asflown.figures.labels import Label, labels_of
from asflown.figures.looks import GREYED, HAIR, INK, MAP, PENCIL, RULE, SHEET, Pen, pens

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Drawn

#: mm: usual width of a figure on A4 and US Letter, and the height of its plot.
WIDTH, PLOT_HEIGHT = 165.0, 72.0
#: pt: type; mm: a row of it, room for the axes' words, and points in a px.
SIZE, ROW, _LEFT, _BOTTOM, _RIGHT, _TOP, _PX = 9.5, 4.3, 17.0, 11.5, 3.0, 2.0, 0.75
_MM, _CHARACTER = 25.4, 1.85
_STYLE: Any = {
    "font.family": ["DejaVu Sans"],
    "font.size": SIZE,
    "svg.hashsalt": "asflown",
    "svg.fonttype": "path",
    "text.parse_math": False,
    "axes.unicode_minus": True,
    "lines.scale_dashes": False,
    "hatch.linewidth": 0.6,
    "path.simplify": False,
}
_STEPS, _ANGLES = (1, 2, 2.5, 5, 10), (1, 1.5, 3, 4.5, 9, 10)
_HATCHES = {"/": "////", "\\": "\\\\\\\\", ".": "...."}
#: matplotlib's settings belong to the process, so one figure is drawn at a time.
_ONE_AT_A_TIME = threading.Lock()


def svg(figure: Figure, *, width_mm: float = WIDTH, with_words: bool = True) -> str:
    """A figure as SVG, the same bytes every time.

    Parameters
    ----------
    width_mm
        80 or more.
    with_words
        Whether title and caption are drawn; a sheet sets them itself. In the file they stand in any case.

    Raises
    ------
    ValueError
        When the width is too small for the words.
    """
    import io

    import matplotlib as mpl

    with _ONE_AT_A_TIME, mpl.rc_context(_STYLE):
        drawn = draw(figure, width_mm=width_mm, with_words=with_words)
        into = io.StringIO()
        drawn.savefig(into, format="svg", dpi=200, metadata={"Date": None, "Creator": "asflown"})
    return _told(into.getvalue(), figure)


def draw(figure: Figure, *, width_mm: float = WIDTH, with_words: bool = True) -> Drawn:
    """The figure as matplotlib holds it; :func:`svg` sets what is needed around it.

    Notes
    -----
    Each artist's group id says which series it shows, and which part: ``0 line``, ``0 greyed``, ``0 band``,
    ``0 greyed band``, ``0 points``, ``0 interval``, ``0 casing``, ``map``, ``mark``.
    """
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure as Drawn

    if not width_mm >= 80.0:
        raise ValueError(f"a figure is 80 mm wide or more, got {width_mm}")
    title, words = (_rows(figure.title, width_mm, 1.15), _words(figure, width_mm, with_words))
    title = title if with_words else []
    map_room = 3.4 * ROW if figure.shading is not None else 0.0
    above = _TOP + (len(title) * ROW * 1.2 + 1.5 if title else 0.0) + map_room
    below = _BOTTOM + len(words) * ROW + (1.0 if words else 0.0)
    height = above + PLOT_HEIGHT + below
    drawn = Drawn(figsize=(width_mm / _MM, height / _MM), facecolor="white")
    FigureCanvasSVG(drawn)
    left = _left(figure)
    size = (width_mm - left - _RIGHT, PLOT_HEIGHT)
    axes = drawn.add_axes(
        (left / width_mm, below / height, size[0] / width_mm, size[1] / height), facecolor="white"
    )
    _fill(axes, figure, size)
    if figure.shading is not None:
        at = (left / width_mm, (below + PLOT_HEIGHT + 1.2) / height, size[0] / width_mm, 2.2 / height)
        _scale(drawn, at, figure)
    for number, row in enumerate(title):
        y = 1.0 - (_TOP + number * ROW * 1.2) / height
        drawn.text(1.0 / width_mm, y, row, va="top", fontsize=SIZE * 1.15, fontweight="bold", color=INK)
    for number, row in enumerate(words):
        drawn.text(
            1.0 / width_mm, ((len(words) - number) * ROW) / height, row, va="top", fontsize=SIZE, color=INK
        )
    return drawn


def _left(figure: Figure) -> float:
    """Room for what stands left of the plot, mm."""
    texts = [text for _, text in figure.y.ticks]
    if figure.y.is_log and not texts:
        texts = [f"{value:g}" for value in round_places(frame_of(figure).y)]
    room = 3.0 if figure.y.is_named else 8.0
    return max(_LEFT, room + _CHARACTER * max(map(len, texts), default=0))


def _words(figure: Figure, width_mm: float, with_words: bool) -> list[str]:
    said = [*notes_of(figure), *([figure.caption] if with_words and figure.caption else [])]
    return [row for one in said for row in _rows(one, width_mm)]


def _rows(text: str, width_mm: float, larger: float = 1.0) -> list[str]:
    import textwrap

    return textwrap.wrap(text, int((width_mm - 3.0) / (_CHARACTER * larger)))


def _fill(axes: Axes, figure: Figure, size: tuple[float, float]) -> None:
    frame = frame_of(figure)
    axes.set_xscale("log" if figure.x.is_log else "linear")
    axes.set_yscale("log" if figure.y.is_log else "linear")
    _axis(axes.xaxis, figure.x, frame.x)
    _axis(axes.yaxis, figure.y, frame.y)
    axes.set_xlim(frame.x.low, frame.x.high)
    axes.set_ylim(frame.y.low, frame.y.high)
    for spine in axes.spines.values():
        spine.set(color=RULE, linewidth=0.6)
    if has_zero_line(figure):
        axes.axhline(0.0, color=INK, linewidth=0.7, gid="zero")
    if figure.shading is not None:
        _map(axes, figure)
    made = pens(figure.series)
    for number, (one, pen) in enumerate(zip(figure.series, made, strict=True)):
        _band(axes, number, one, pen, figure, frame)
    for number, (one, pen) in enumerate(zip(figure.series, made, strict=True)):
        if one.form is Form.POINTS:
            _points(axes, number, one, pen, figure)
        else:
            _line(axes, number, one, pen, figure)
    _marks(axes, figure)
    wide, high = (length / _MM * 72.0 for length in size)
    for label in labels_of(figure, wide, high, SIZE * 1.06):
        _say(axes, label, made)


def _axis(of: Any, axis: Axis, over: Range) -> None:
    from matplotlib.ticker import FixedFormatter, FixedLocator, FuncFormatter, MaxNLocator, NullLocator

    if axis.ticks:
        of.set_major_locator(FixedLocator([at for at, _ in axis.ticks]))
        of.set_major_formatter(FixedFormatter([words for _, words in axis.ticks]))
    elif axis.is_log:
        of.set_major_locator(FixedLocator(round_places(over)))
        of.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    else:
        of.set_major_locator(MaxNLocator(nbins=8, steps=_ANGLES if axis.unit == "deg" else _STEPS))
        of.set_major_formatter(FuncFormatter(lambda value, _: f"{round(value, 9):g}".replace("-", "−")))
    of.set_minor_locator(NullLocator())
    of.set_label_text("" if axis.is_named else axis.label, fontsize=SIZE, color=INK)
    of.labelpad = 2.0
    of.set_tick_params(colors=INK, labelsize=SIZE, width=0.6, length=3.0, color=RULE)
    if not axis.ticks:
        of.grid(True, color=HAIR, linewidth=0.4)
    of.axes.set_axisbelow(True)


def _map(axes: Axes, figure: Figure) -> None:
    import numpy as np

    shading = figure.shading
    assert shading is not None
    values = np.array([[np.nan if v is None else v for v in row] for row in shading.values])
    mesh = axes.pcolormesh(
        edges(shading.x), edges(shading.y), np.ma.masked_invalid(values), cmap=MAP, rasterized=True
    )
    mesh.set_gid("map")
    if shading.ends is not None:
        mesh.set_clim(*shading.ends)


def _scale(drawn: Drawn, at: tuple[float, float, float, float], figure: Figure) -> None:
    """The colours' scale above the map."""
    shading = figure.shading
    assert shading is not None
    mesh = next(one for one in drawn.axes[0].collections if one.get_gid() == "map")
    bar = drawn.colorbar(mesh, cax=drawn.add_axes(at), orientation="horizontal")
    bar.ax.xaxis.set_ticks_position("top")
    bar.ax.xaxis.set_label_position("top")
    bar.ax.tick_params(labelsize=SIZE, length=2.0, width=0.6, pad=1.0)
    bar.outline.set(linewidth=0.6, color=RULE)
    bar.set_label(f"{shading.name} ({shading.unit})", fontsize=SIZE, labelpad=2.0)


def _band(axes: Axes, number: int, one: Series, pen: Pen, figure: Figure, frame: Frame) -> None:
    if not one.low or one.form is Form.POINTS:
        return
    for run in runs(one, figure):
        rows = band(one, range(run.first, run.last + 1), figure, frame.y.low)
        if not rows:
            continue
        colour = GREYED if run.is_greyed else pen.colour
        hatch = "" if run.is_greyed else pen.hatch
        axes.fill_between(
            [one.x[i] for i, _, _ in rows],
            [low for _, low, _ in rows],
            [high for _, _, high in rows],
            facecolor=(colour, 0.0 if hatch else 0.22),
            edgecolor=(colour, 0.3 if run.is_greyed else 0.8),
            linewidth=0.5,
            hatch=_HATCHES.get(hatch),
            gid=f"{number} {'greyed band' if run.is_greyed else 'band'}",
        )


def _line(axes: Axes, number: int, one: Series, pen: Pen, figure: Figure) -> None:
    dash: Any = (0, tuple(length * _PX for length in pen.dash)) if pen.dash else "solid"
    for run in runs(one, figure):
        places = joined(one, run, figure)
        x, y = [one.x[i] for i in places], [one.y[i] for i in places]
        alone: Any = {"marker": "o", "markersize": 3.0} if len(places) == 1 else {}
        width = (1.2 if run.is_greyed else pen.width) * _PX
        if figure.shading is not None:
            axes.plot(x, y, color=SHEET, linewidth=width + 1.8, alpha=0.85, gid=f"{number} casing")
        axes.plot(
            x,
            y,
            color=GREYED if run.is_greyed else pen.colour,
            linestyle=dash,
            linewidth=width,
            gid=f"{number} {'greyed' if run.is_greyed else 'line'}",
            **alone,
        )


def _points(axes: Axes, number: int, one: Series, pen: Pen, figure: Figure) -> None:
    places = [i for run in runs(one, figure) for i in range(run.first, run.last + 1)]
    for i in places if one.low else ():
        if is_drawable(one.low[i], figure.y) and is_drawable(one.high[i], figure.y):
            axes.plot(
                [one.x[i]] * 2,
                [one.low[i], one.high[i]],
                color=pen.colour,
                linewidth=1.2,
                marker="_",
                markersize=5.0,
                gid=f"{number} interval",
            )
    if not places:
        return
    axes.plot(
        [one.x[i] for i in places],
        [one.y[i] for i in places],
        linestyle="none",
        marker="D" if pen.hatch else "o",
        markersize=5.0,
        color=pen.colour,
        gid=f"{number} points",
    )


def _marks(axes: Axes, figure: Figure) -> None:
    look: Any = {"color": PENCIL, "linewidth": 1.0, "linestyle": (0, (5.2, 2.2, 1.5, 2.2)), "gid": "mark"}
    for mark in figure.marks:
        if mark.x is not None and mark.y is not None:
            axes.plot([mark.x], [mark.y], marker="+", markersize=8.0, color=INK, gid="mark")
        elif mark.x is not None and is_drawable(mark.x, figure.x):
            axes.axvline(mark.x, **look)
        elif mark.y is not None and is_drawable(mark.y, figure.y):
            axes.axhline(mark.y, **look)


def _say(axes: Axes, label: Label, made: Sequence[Pen]) -> None:
    across = {"left": 3.0, "center": 0.0, "right": -3.0}[label.across]
    along = {"bottom": 2.5, "middle": 0.0, "top": -2.5}[label.along]
    axes.annotate(
        "\n".join(label.rows),
        (label.x, label.y),
        (across, along),
        textcoords="offset points",
        ha=label.across,
        va={"bottom": "bottom", "middle": "center", "top": "top"}[label.along],
        rotation=90 if label.is_turned else 0,
        fontsize=SIZE,
        color=PENCIL if label.series is None else made[label.series].colour,
        bbox={"boxstyle": "square,pad=0.1", "facecolor": ("white", 0.7), "edgecolor": "none"},
        annotation_clip=False,
    )


def _told(text: str, figure: Figure) -> str:
    """The SVG with its title and description in front, as text."""
    start = text.index("<svg ")
    end = text.index(">", start)
    head = text[start:end] + ' role="img" aria-labelledby="title desc">'
    said = " ".join(_all(figure))
    return (
        f'{text[:start]}{head}\n <title id="title">{escape(figure.title)}</title>\n'
        f' <desc id="desc">{escape(said)}</desc>{text[end + 1 :]}'
    )


def _all(figure: Figure) -> Iterable[str]:
    yield from [figure.caption] if figure.caption else []
    yield from notes_of(figure)
