"""What segments are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from asflown.core.flight import FloatArray, Span


class Kind(StrEnum):
    """What the aircraft did."""

    GROUND = "on ground"
    TAKE_OFF = "take-off"
    HOVER = "hover"
    FORWARD = "forward flight"
    MANOEUVRE = "manoeuvre"
    PUNCH = "punch"
    SATURATED = "saturated"
    LANDING = "landing"


@dataclass(frozen=True, slots=True)
class Segment:
    """One stretch of one kind. Kinds may overlap: a manoeuvre can be saturated.

    Attributes
    ----------
    axis
        For manoeuvres.
    reason
        Why it was taken for this, with the numbers.
    """

    kind: Kind
    span: Span
    reason: str
    axis: str | None = None


@dataclass(frozen=True, eq=False)
class Segments:
    """All segments of a flight.

    Attributes
    ----------
    found
        In order of time within each kind.
    airborne
        Spans in the air.
    hover_level
        Median collective in flight, as the motors' mean command (or throttle); ``None`` where neither was
        logged.
    time
        (n,) s, middle of the bins of the slow copy everything was judged on.
    saturated
        (motors, n) true where a motor stood at a limit for a fifth of the bin or more while airborne.
    saturated_share
        By axis: share of the time of its manoeuvres (without any: of the airborne time) in which a motor was
        saturated.
    statements
        What could not be told, and from what it was told.
    """

    found: tuple[Segment, ...]
    airborne: tuple[Span, ...]
    time: FloatArray
    saturated: npt.NDArray[np.bool_]
    hover_level: float | None = None
    saturated_share: Mapping[str, float] = field(default_factory=dict)
    statements: tuple[str, ...] = ()

    def of(self, kind: Kind, axis: str | None = None) -> tuple[Segment, ...]:
        """The segments of a kind, of one axis where one is named."""
        return tuple(s for s in self.found if s.kind == kind and axis in (None, s.axis))

    def seconds(self, kind: Kind, axis: str | None = None) -> float:
        """Their length together, s."""
        return sum(segment.span.length for segment in self.of(kind, axis))

    @property
    def airborne_seconds(self) -> float:
        """Time in the air, s."""
        return sum(span.length for span in self.airborne)
