"""The numbers of a figure as a table, for those who listen and for CSV; points are left out, none is made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.figures.figure import Figure, Form, Series, Shading
from asflown.figures.flight_numbers import plain
from asflown.figures.framing import is_drawable, notes_of

#: Rows of a table that is read, columns of a map, and figures a number is shown with.
ROWS, COLUMNS, DIGITS = 24, 10, 4
_UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class FigureTable:
    """A table of what a figure shows.

    Attributes
    ----------
    says
        How many of how many points stand in it, and what the figure's marks and grey stretches say.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    says: str = ""


def table_of(figure: Figure, *, most: int | None = ROWS) -> FigureTable:
    """The table that stands for a figure: of its series, or of its map where it has one.

    Parameters
    ----------
    most
        Rows of each series (of the map), evenly along its axis; the ends, the largest and the least value
        are among them. ``None``: all, for CSV.
    """
    if figure.shading is not None:
        return _of_map(figure, figure.shading, most)
    return _of_series(figure, most)


def tables_of(figure: Figure, *, most: int | None = ROWS) -> tuple[FigureTable, ...]:
    """Every table of a figure: its map's, then its series'."""
    if figure.shading is None:
        return (_of_series(figure, most),)
    return (_of_map(figure, figure.shading, most), *([_of_series(figure, most)] if figure.series else []))


def _of_series(figure: Figure, most: int | None) -> FigureTable:
    several = len(figure.series) > 1
    has_band = any(one.low for one in figure.series)
    has_remark = any(any(one.is_greyed) or one.words for one in figure.series)
    columns = (
        *(["series"] if several else []),
        figure.x.label,
        figure.y.label,
        *(["low", "high"] if has_band else []),
        *(["remark"] if has_remark else []),
    )
    rows: list[tuple[str, ...]] = []
    counts: list[str] = []
    for one in figure.series:
        drawn = [i for i in range(len(one.x)) if is_drawable(one.x[i], figure.x)]
        taken = _thinned(one, drawn, most)
        if len(taken) < len(drawn):
            counts.append(f"{len(taken)} of {len(drawn)} points{f' of {one.name}' if several else ''}")
        for i in taken:
            row = [*([one.name] if several else []), _at(figure, one, i), _y(figure, one.y[i])]
            row += [_said(one.low[i]), _said(one.high[i])] if one.low else [""] * (2 * has_band)
            rows.append((*row, *([_remark(one, i)] if has_remark else [])))
    return FigureTable(columns, tuple(rows), _says(figure, counts))


def _at(figure: Figure, one: Series, i: int) -> str:
    return dict(figure.x.ticks).get(one.x[i], _said(one.x[i]))


def _y(figure: Figure, value: float) -> str:
    return dict(figure.y.ticks).get(value, _said(value))


def _remark(one: Series, i: int) -> str:
    grey = one.greyed_why if one.is_greyed and one.is_greyed[i] else ""
    return "; ".join(text for text in (one.words[i] if one.words else "", grey) if text)


def _thinned(one: Series, drawn: Sequence[int], most: int | None) -> list[int]:
    """Places spread evenly among those drawn, with the ends, the largest and the least value."""
    if most is None or len(drawn) <= most or one.form is Form.POINTS:
        return list(drawn)
    known = [i for i in drawn if math.isfinite(one.y[i])]
    ends = {drawn[0], drawn[-1]}
    ends |= {max(known, key=lambda i: one.y[i]), min(known, key=lambda i: one.y[i])} if known else set()
    return sorted(ends | {drawn[place] for place in _even(len(drawn), max(2, most - 2))})


def _even(count: int, most: int) -> set[int]:
    """At most so many places of ``count``, evenly, both ends among them."""
    if count <= most:
        return set(range(count))
    return {round(k * (count - 1) / (most - 1)) for k in range(most)}


def _of_map(figure: Figure, shading: Shading, most: int | None) -> FigureTable:
    """Rows along y, columns along x; the row and the column of the largest value are among them."""
    top = _largest(shading)
    rows, across = set(range(len(shading.y))), set(range(len(shading.x)))
    if most is not None:
        rows = _even(len(rows), most - 1) | ({top[0]} if top else set())
        across = _even(len(across), COLUMNS - 1) | ({top[1]} if top else set())
    columns = (figure.y.label, *(f"at {_said(shading.x[i])} {figure.x.unit}" for i in sorted(across)))
    made = tuple(
        (_said(shading.y[j]), *(_cell(shading.values[j][i]) for i in sorted(across))) for j in sorted(rows)
    )
    counts = [f"cells in {shading.unit}"]
    if len(rows) < len(shading.y) or len(across) < len(shading.x):
        counts.append(
            f"{len(rows)} of {len(shading.y)} rows and {len(across)} of {len(shading.x)} columns, the largest"
            " value among them"
        )
    return FigureTable(columns, made, _says(figure, counts))


def _largest(shading: Shading) -> tuple[int, int] | None:
    known = [
        (value, (j, i))
        for j, row in enumerate(shading.values)
        for i, value in enumerate(row)
        if value is not None
    ]
    return max(known)[1] if known else None


def _cell(value: float | None) -> str:
    return _UNKNOWN if value is None else _said(value)


def _said(value: float) -> str:
    return plain(value, DIGITS) if math.isfinite(value) else _UNKNOWN


def _says(figure: Figure, counts: Sequence[str]) -> str:
    """One sentence each: what is left out, the marks, the greyed stretches."""
    made = [f"Table of {'; '.join(counts)}."] if counts else []
    marks = [
        f"{mark.words} at "
        + ", ".join(
            f"{_said(value)}{'' if axis.unit in ('', '1') else f' {axis.unit}'}"
            for value, axis in ((mark.x, figure.x), (mark.y, figure.y))
            if value is not None
        )
        for mark in figure.marks
    ]
    made += [f"Marked: {'; '.join(marks)}."] if marks else []
    return " ".join([*made, *notes_of(figure)])
