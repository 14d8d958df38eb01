"""Where the words of lines and marks stand, so that they cover each other and the lines least."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from asflown.figures.figure import Figure, Mark, Series
from asflown.figures.framing import Frame, frame_of, is_drawable, runs

#: Mean width of a character and height of a row, shares of the type size.
CHARACTER, ROW = 0.56, 1.25
#: Longest row of a label, characters.
LONGEST = 30
_GAP = 4.0
#: Places along a line that are tried for its words, best first.
_ALONG = (1.0, 0.9, 0.75, 0.6, 0.45, 0.3, 0.15, 0.0)


@dataclass(frozen=True, slots=True)
class Label:
    """Words beside a point.

    Attributes
    ----------
    x, y
        The point, in the axes' units.
    across
        Which side of the words is at the point: ``left``, ``center`` or ``right``.
    along
        ``bottom``: the words stand above the point; ``top``: below; ``middle``: level with it.
    is_turned
        Read from below, for the words of an upright line.
    series
        Number of the series, ``None`` for a mark.
    """

    text: str
    x: float
    y: float
    across: str
    along: str
    is_turned: bool = False
    series: int | None = None

    @property
    def rows(self) -> tuple[str, ...]:
        """The words in rows."""
        return tuple(textwrap.wrap(self.text, LONGEST)) or ("",)


@dataclass(frozen=True, slots=True)
class _Box:
    left: float
    bottom: float
    right: float
    top: float

    def overlap(self, other: _Box) -> float:
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.top, other.top) - max(self.bottom, other.bottom)
        return wide * high if wide > 0 and high > 0 else 0.0

    def holds(self, point: tuple[float, float]) -> bool:
        return self.left <= point[0] <= self.right and self.bottom <= point[1] <= self.top


@dataclass(frozen=True)
class _Canvas:
    """The plot in px, with the points of all lines on it."""

    figure: Figure
    frame: Frame
    wide: float
    high: float
    size: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        return self.wide * self.frame.x.place(x), self.high * self.frame.y.place(y)

    def box(self, label: Label) -> _Box:
        rows = label.rows
        wide, high = CHARACTER * self.size * max(map(len, rows)), ROW * self.size * len(rows)
        if label.is_turned:
            wide, high = high, wide
        x, y = self.at(label.x, label.y)
        left = {"left": x + _GAP, "center": x - 0.5 * wide, "right": x - _GAP - wide}[label.across]
        bottom = {"bottom": y + _GAP, "middle": y - 0.5 * high, "top": y - _GAP - high}[label.along]
        return _Box(left, bottom, left + wide, bottom + high)


def labels_of(figure: Figure, wide: float, high: float, size: float) -> tuple[Label, ...]:
    """Words of every mark, and of every series where there is more than one.

    Parameters
    ----------
    wide, high
        Size of the plot, px: the smallest it is looked at.
    size
        Of the type, px.
    """
    canvas = _Canvas(figure, frame_of(figure), wide, high, size)
    points = [point for one in figure.series for point in _points(one, canvas)]
    placed: list[tuple[Label, _Box]] = []
    for mark in figure.marks:
        _place(_of_mark(mark, canvas), canvas, points, placed)
    if len(figure.series) > 1:
        for number, one in enumerate(figure.series):
            if one.name:
                _place(_of_series(number, one, canvas), canvas, points, placed)
    return tuple(label for label, _ in placed)


def _points(one: Series, canvas: _Canvas) -> Iterator[tuple[float, float]]:
    """Points along a series, no farther apart than the gap."""
    for run in runs(one, canvas.figure):
        before: tuple[float, float] | None = None
        for i in range(run.first, run.last + 1):
            here = canvas.at(one.x[i], one.y[i])
            if before is not None:
                steps = int(max(abs(here[0] - before[0]), abs(here[1] - before[1])) / _GAP)
                for k in range(1, min(steps, 200)):
                    part = k / steps
                    yield (
                        before[0] + part * (here[0] - before[0]),
                        before[1] + part * (here[1] - before[1]),
                    )
            yield here
            before = here


def _place(
    candidates: Iterator[Label],
    canvas: _Canvas,
    points: Sequence[tuple[float, float]],
    placed: list[tuple[Label, _Box]],
) -> None:
    """Take the first of the best candidates."""
    best: tuple[float, Label, _Box] | None = None
    for number, label in enumerate(candidates):
        box = canvas.box(label)
        cost = 0.4 * number + sum(box.holds(point) for point in points)
        cost += sum(1.0 * box.overlap(other) for _, other in placed)
        outside = max(0.0, -box.left) + max(0.0, box.right - canvas.wide)
        outside += max(0.0, -box.bottom) + max(0.0, box.top - canvas.high)
        cost += 20.0 * outside
        if best is None or cost < best[0]:
            best = (cost, label, box)
    if best is not None:
        placed.append(best[1:])


def _of_series(number: int, one: Series, canvas: _Canvas) -> Iterator[Label]:
    inside = [
        (i, run.is_greyed)
        for run in runs(one, canvas.figure)
        for i in range(run.first, run.last + 1)
        if 0.0 <= canvas.frame.y.place(one.y[i]) <= 1.0
    ]
    inside = [found for found in inside if not found[1]] or inside
    if not inside:
        return
    order = sorted((i for i, _ in inside), key=lambda i: canvas.frame.x.place(one.x[i]))
    for part in _ALONG:
        i = order[round(part * (len(order) - 1))]
        sides = ("right", "left", "center") if part > 0.5 else ("left", "right", "center")
        for along in ("bottom", "top"):
            for across in sides:
                yield Label(one.name, one.x[i], one.y[i], across, along, series=number)


def _of_mark(mark: Mark, canvas: _Canvas) -> Iterator[Label]:
    x, y = canvas.frame.x, canvas.frame.y
    if mark.x is not None and mark.y is not None:
        for along in ("bottom", "top"):
            for across in ("left", "right", "center"):
                yield Label(mark.words, mark.x, mark.y, across, along)
    elif mark.x is not None and is_drawable(mark.x, canvas.figure.x):
        for end, along in ((y.high, "top"), (y.low, "bottom")):
            for across in ("right", "left"):
                yield Label(mark.words, mark.x, end, across, along, is_turned=True)
    elif mark.y is not None and is_drawable(mark.y, canvas.figure.y):
        for end, across in ((x.low, "left"), (x.high, "right")):
            for along in ("bottom", "top"):
                yield Label(mark.words, end, mark.y, across, along)
