"""What both renderers share: which values can be drawn, in runs, and from where to where the axes go."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from asflown.figures.figure import Axis, Figure, Form, Series

#: Room beyond the outermost values, shares of the axis.
_ALONG, _ACROSS, _AROUND_POINTS = 0.0, 0.06, 0.08
#: By how many spans of what is sure an axis goes on for what is greyed.
_FOR_GREYED = 0.35


@dataclass(frozen=True, slots=True)
class Range:
    """Ends of an axis, in its unit.

    Attributes
    ----------
    low, high
        Below each other; above zero on a log axis.
    """

    low: float
    high: float
    is_log: bool = False

    def place(self, value: float) -> float:
        """Where a value stands, 0 at the low end and 1 at the high one."""
        low, high = self._on(self.low), self._on(self.high)
        return (self._on(value) - low) / (high - low)

    def _on(self, value: float) -> float:
        return math.log10(value) if self.is_log else value


@dataclass(frozen=True, slots=True)
class Frame:
    """The ranges of a figure's axes."""

    x: Range
    y: Range


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring points of a series that are drawn as one.

    Attributes
    ----------
    first, last
        Places in the series, both within.
    is_greyed
        All of them.
    """

    first: int
    last: int
    is_greyed: bool = False


def is_drawable(value: float, axis: Axis) -> bool:
    """Whether a value has a place on an axis."""
    return math.isfinite(value) and (not axis.is_log or value > 0.0)


def runs(one: Series, figure: Figure) -> Iterator[Run]:
    """The stretches of a series without a gap and of one greyness, in order.

    Notes
    -----
    Where greyness changes, the greyed run takes the last sure point with it, so that the line is whole.
    """
    start: int | None = None
    count = len(one.x)
    for i in range(count + 1):
        here = i < count and is_drawable(one.x[i], figure.x) and is_drawable(one.y[i], figure.y)
        if start is not None and (not here or _grey(one, i) != _grey(one, start)):
            yield Run(start, i - 1, _grey(one, start))
            start = None
        if here and start is None:
            start = i


def _grey(one: Series, i: int) -> bool:
    return bool(one.is_greyed) and i < len(one.is_greyed) and one.is_greyed[i]


def joined(one: Series, run: Run, figure: Figure) -> range:
    """Places a run is drawn through: a greyed one takes in its sure neighbours."""
    first, last = run.first, run.last
    if run.is_greyed:
        for step in (-1, 1):
            i = first - 1 if step < 0 else last + 1
            if 0 <= i < len(one.x) and is_drawable(one.x[i], figure.x) and is_drawable(one.y[i], figure.y):
                first, last = (i, last) if step < 0 else (first, i)
    return range(first, last + 1)


def band(one: Series, places: Iterable[int], figure: Figure, floor: float) -> list[tuple[int, float, float]]:
    """Place, low and high of a band where it can be drawn; on a log axis it goes down to ``floor``."""
    made = []
    for i in places:
        low, high = one.low[i], one.high[i]
        if figure.y.is_log and math.isfinite(low) and low <= 0.0:
            low = floor
        if is_drawable(low, figure.y) and is_drawable(high, figure.y):
            made.append((i, low, high))
    return made


def frame_of(figure: Figure) -> Frame:
    """The ranges both axes are drawn over."""
    return Frame(_along(figure), _across(figure))


def _along(figure: Figure) -> Range:
    values = [x for one in figure.series for x in one.x]
    values += [mark.x for mark in figure.marks if mark.x is not None]
    if figure.shading is not None:
        values += edges(figure.shading.x)
    values += [at for at, _ in figure.x.ticks]
    points = any(one.form is Form.POINTS for one in figure.series)
    return _range(values, figure.x, _AROUND_POINTS if points else _ALONG)


def _across(figure: Figure) -> Range:
    marks = [mark.y for mark in figure.marks if mark.y is not None]
    if figure.shading is not None:
        return _range([*edges(figure.shading.y), *marks], figure.y, 0.0)
    sure, rest = list(marks), list(marks)
    for one in figure.series:
        for run in runs(one, figure):
            into = rest if run.is_greyed else sure
            for i in range(run.first, run.last + 1):
                into += [one.y[i], *((one.low[i], one.high[i]) if one.low else ())]
    sure += [at for at, _ in figure.y.ticks]
    known = [value for value in sure if is_drawable(value, figure.y)]
    if len(known) == len(marks):  # nothing is sure
        return _range(rest, figure.y, _ACROSS)
    return _widened(_range(known, figure.y, _ACROSS), _range([*known, *rest], figure.y, _ACROSS))


def _widened(sure: Range, all_: Range) -> Range:
    """The range of what is sure, as far as the greyed rest wants more of it, within bounds."""
    low, high = all_.place(sure.low), all_.place(sure.high)
    room = _FOR_GREYED * (high - low)
    return Range(_at(all_, max(0.0, low - room)), _at(all_, min(1.0, high + room)), sure.is_log)


def _range(values: Sequence[float], axis: Axis, room: float) -> Range:
    known = [value for value in values if is_drawable(value, axis)]
    if not known:
        return Range(0.1, 10.0, True) if axis.is_log else Range(0.0, 1.0)
    low, high = min(known), max(known)
    if axis.is_log:
        if high / low < 1.0 + 1e-9:
            low, high = low / 2.0, high * 2.0
    elif high - low <= 1e-9 * max(abs(low), abs(high), 1e-9):
        half = 0.5 if axis.ticks else 0.1 * abs(low) or 1.0
        low, high = low - half, high + half
    whole = Range(low, high, axis.is_log)
    return Range(_at(whole, -room), _at(whole, 1.0 + room), axis.is_log)


def _at(whole: Range, place: float) -> float:
    """The value at a place, the inverse of :meth:`Range.place`."""
    if whole.is_log:
        low, high = math.log10(whole.low), math.log10(whole.high)
        return float(10.0 ** min(max(low + place * (high - low), -300.0), 300.0))
    return whole.low + place * (whole.high - whole.low)


def edges(middles: Sequence[float]) -> tuple[float, ...]:
    """The ``n + 1`` edges of cells by their middles."""
    if not middles:
        return ()
    if len(middles) == 1:
        half = 0.05 * abs(middles[0]) or 0.5
        return (middles[0] - half, middles[0] + half)
    between = [0.5 * (a + b) for a, b in pairwise(middles)]
    first, last = 2.0 * middles[0] - between[0], 2.0 * middles[-1] - between[-1]
    return (first, *between, last)


def notes_of(figure: Figure) -> tuple[str, ...]:
    """What grey and paper mean in a figure, one sentence each; empty where neither is seen."""
    grey = [one for one in figure.series if any(one.is_greyed) and one.greyed_why]
    alike = len({one.greyed_why for one in grey}) == 1
    made = [f"Grey{'' if alike else f', {one.name}'}: {one.greyed_why}." for one in grey]
    shading = figure.shading
    if shading is not None and any(value is None for row in shading.values for value in row):
        made += [f"Left as paper: {shading.blank_why}."] if shading.blank_why else []
    return tuple(dict.fromkeys(made))


def round_places(over: Range, most: int = 12) -> list[float]:
    """Round places of a log axis, each decade at 1, 2 and 5, or at 1 and 3, or at 1."""
    first, last = math.floor(math.log10(over.low)), math.ceil(math.log10(over.high))
    every = max(1, math.ceil((last - first) / most))
    made: list[float] = []
    for steps in ((1, 2, 5), (1, 3), (1,)):
        made = [
            value
            for power in range(first, last + 1, every)
            for step in steps
            if over.low * 0.999 <= (value := float(f"{step}e{power}")) <= over.high * 1.001
        ]
        if len(made) <= most:
            break
    return made


def has_zero_line(figure: Figure) -> bool:
    """Whether zero is drawn as a line: on a linear axis of numbers, where no mark is drawn there."""
    return not figure.y.is_log and not figure.y.ticks and all(mark.y != 0.0 for mark in figure.marks)
