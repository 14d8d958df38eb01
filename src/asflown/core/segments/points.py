"""Test points of a test card, found again in a flight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import Span
from asflown.core.segments.kinds import Kind, Segments

if TYPE_CHECKING:
    from asflown.core.flight import Flight, FloatArray

#: A sweep is one stretch of at least this many seconds whose turns come ever faster.
SWEEP_LEAST = 8.0
#: Rank correlation of the time between zero crossings with time, at most this, makes a sweep.
SWEEP_TREND = -0.6


class PointKind(StrEnum):
    """What a card asks to fly."""

    HOVER = "hover"
    DOUBLETS = "doublets"
    SWEEP = "sweep"
    FORWARD = "forward pass"
    PUNCH = "punch"


@dataclass(frozen=True, slots=True)
class TestPoint:
    """One line of a card.

    Attributes
    ----------
    axis
        For doublets and sweeps.
    least
        Seconds of it that are needed.
    """

    __test__ = False  # not a test of pytest

    kind: PointKind
    axis: str | None = None
    least: float = 10.0

    @property
    def words(self) -> str:
        """``roll doublets``, ``hover``."""
        return f"{self.axis} {self.kind}" if self.axis else str(self.kind)


@dataclass(frozen=True, slots=True)
class Matched:
    """What a flight holds of a test point.

    Attributes
    ----------
    missing
        One sentence on what is missing, ``None`` where all is there.
    """

    point: TestPoint
    spans: tuple[Span, ...]
    seconds: float
    missing: str | None


def match_points(found: Segments, flight: Flight, points: Sequence[TestPoint]) -> tuple[Matched, ...]:
    """Look for each test point; the same stretch may serve several."""
    return tuple(_one(found, flight, point) for point in points)


_SEGMENT_OF = {
    PointKind.HOVER: Kind.HOVER,
    PointKind.FORWARD: Kind.FORWARD,
    PointKind.PUNCH: Kind.PUNCH,
    PointKind.DOUBLETS: Kind.MANOEUVRE,
    PointKind.SWEEP: Kind.MANOEUVRE,
}


def _one(found: Segments, flight: Flight, point: TestPoint) -> Matched:
    spans = tuple(segment.span for segment in found.of(_SEGMENT_OF[point.kind], point.axis))
    if point.kind is PointKind.SWEEP:
        spans = tuple(span for span in spans if _is_sweep(flight, point.axis or "roll", span))
    seconds = sum(span.length for span in spans)
    if seconds >= point.least:
        return Matched(point, spans, seconds, None)
    return Matched(point, spans, seconds, f"{point.words} {int(seconds)} s of about {point.least:.0f} s")


def _is_sweep(flight: Flight, axis: str, span: Span) -> bool:
    trace = flight.traces.get(f"rate_command.{axis}") or flight.traces.get(f"rate.{axis}")
    if trace is None or span.length < SWEEP_LEAST:
        return False
    a, b = np.searchsorted(trace.time, (span.start, span.end))
    values = np.nan_to_num(trace.values[a:b])
    # A sample must pass a tenth of the largest on the other side before a crossing counts.
    sure = np.flatnonzero(np.abs(values) > 0.1 * np.max(np.abs(values), initial=0.0))
    turns = sure[1:][np.diff(np.sign(values[sure])) != 0]
    if turns.size < 12:
        return False
    between = np.diff(trace.time[a:b][turns])
    return _rank_correlation(between) <= SWEEP_TREND


def _rank_correlation(values: FloatArray) -> float:
    """Spearman's, with the order they stand in."""
    order = np.argsort(np.argsort(values, kind="stable"), kind="stable").astype(np.float64)
    number = np.arange(values.size, dtype=np.float64)
    return float(np.corrcoef(order, number)[0, 1])
