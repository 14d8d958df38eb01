"""The curves behind a verdict: of the newest flight on either side whose plant is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asflown.app.judging.verdict import Given
from asflown.app.needs import Store
from asflown.core.study.kept import FlightEvidence

if TYPE_CHECKING:
    from asflown.app.flights.redrawn import Redrawn


@dataclass(frozen=True)
class JudgedCurves:
    """What can be drawn of a verdict.

    Attributes
    ----------
    before, after
        ``None`` where no flight of that side has a plant.
    says
        Which flight stands for which side, for captions.
    reasons
        By axis, why it is not drawn.
    """

    before: Redrawn | None
    after: Redrawn | None
    says: str
    reasons: Mapping[str, str] = field(default_factory=dict)


def judged_curves(store: Store, given: Given) -> JudgedCurves:
    """Draw again the newest flight before and the newest after."""
    before, after = (_newest(store, side) for side in (given.sides.before, given.sides.after))
    said = [
        f"{word} {one.flight.id}{_of(side)}"
        for word, one, side in (("before", before, given.sides.before), ("after", after, given.sides.after))
        if one is not None
    ]
    reasons: dict[str, str] = {}
    for word, one in (("before", before), ("after", after)):
        if one is not None:
            reasons |= {axis: f"{word}, {one.flight.id}: {why}" for axis, why in one.reasons.items()}
    return JudgedCurves(before, after, ", ".join(said), reasons)


def _newest(store: Store, side: Sequence[FlightEvidence]) -> Redrawn | None:
    from asflown.app.flights.redrawn import redrawn

    for flight in reversed(side):
        if flight.identified:
            return redrawn(store, flight)
    return None


def _of(side: Sequence[FlightEvidence]) -> str:
    return f" (the newest of {len(side)})" if len(side) > 1 else ""
