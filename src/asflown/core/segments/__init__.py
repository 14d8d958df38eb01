"""What an aircraft did when: on the ground, take-off, hover, manoeuvres, saturation, landing."""

from asflown.core.segments.find import segments
from asflown.core.segments.kinds import Kind, Segment, Segments
from asflown.core.segments.points import Matched, PointKind, TestPoint, match_points

__all__ = [
    "Kind",
    "Matched",
    "PointKind",
    "Segment",
    "Segments",
    "TestPoint",
    "match_points",
    "segments",
]
