"""Descriptions of figures: series, bands, units, marks, caption. Renderers draw them; none computes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum


class Look(StrEnum):
    """Whose data a series is; the renderers choose line and colour by it."""

    BEFORE = "before"
    AFTER = "after"
    PREDICTED = "predicted"
    MARGIN = "margin"
    PLAIN = "plain"


class Form(StrEnum):
    """How a series is drawn: joined, or each point by itself with its interval."""

    LINE = "line"
    POINTS = "points"


@dataclass(frozen=True)
class Series:
    """One line or row of points, optionally with a band; all tuples have the same length.

    Attributes
    ----------
    x, y
        In the axes' units; where ``y`` is no number nothing is drawn.
    low, high
        Band around ``y``; empty where there is none.
    is_greyed
        Where too little signal was there, worded by ``greyed_why``.
    words
        What each point says, empty where they say nothing.
    """

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    look: Look = Look.PLAIN
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    is_greyed: tuple[bool, ...] = ()
    greyed_why: str = ""
    form: Form = Form.LINE
    words: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        parts = (self.x, self.y, self.low, self.high, self.is_greyed, self.words)
        lengths = {len(part) for part in parts if part}
        if len(lengths) > 1:
            raise ValueError(f"series '{self.name}' has parts of lengths {sorted(lengths)}")
        if bool(self.low) != bool(self.high):
            raise ValueError(f"series '{self.name}' has one side of its band only")


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis; its label is always ``name (unit)``.

    Attributes
    ----------
    unit
        Empty where the axis counts nothing: its ``ticks`` say what stands there.
    ticks
        Places and words, for an axis of names or dates; none: the renderers choose round numbers.
    """

    name: str
    unit: str
    is_log: bool = False
    ticks: tuple[tuple[float, str], ...] = ()

    @property
    def is_named(self) -> bool:
        """Whether its ticks say all there is to say: no label is drawn beside them."""
        return bool(self.ticks) and not self.unit

    @property
    def label(self) -> str:
        """What stands beside the axis."""
        return f"{self.name} ({self.unit})" if self.unit else self.name


@dataclass(frozen=True, slots=True)
class Mark:
    """A line or a point with its words, at ``x`` or ``y`` or both, in the axes' units."""

    words: str
    x: float | None = None
    y: float | None = None


@dataclass(frozen=True)
class Shading:
    """A map behind the series: one value for each pair of x and y, drawn in cividis.

    Attributes
    ----------
    x, y
        Middles of the cells, in the axes' units, increasing.
    values
        One row of ``len(x)`` for each of ``y``; ``None`` where nothing is known: left as paper, and worded by
        ``blank_why``.
    name, unit
        What the shading shows, for its scale.
    ends
        Where the colours' scale ends; beyond stands the end's colour. ``None``: least and largest value.
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    values: tuple[tuple[float | None, ...], ...]
    name: str
    unit: str
    blank_why: str = ""
    ends: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if len(self.values) != len(self.y) or any(len(row) != len(self.x) for row in self.values):
            raise ValueError(f"shading '{self.name}' needs {len(self.y)} rows of {len(self.x)} values")


@dataclass(frozen=True)
class Figure:
    """A figure: what both renderers draw, and the table and caption sentence that stand for it.

    Attributes
    ----------
    shading
        A map under the series (the Campbell diagram), ``None`` for none.
    caption
        One sentence that says what is seen.
    evidence
        Hashes of the evidence it shows.
    """

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]
    marks: tuple[Mark, ...] = ()
    caption: str = ""
    evidence: tuple[str, ...] = ()
    shading: Shading | None = None

    @property
    def file_name(self) -> str:
        """The title as a file name, without its ending."""
        return re.sub(r"[^a-z0-9]+", "-", self.title.lower()).strip("-") or "figure"
