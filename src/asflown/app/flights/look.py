"""What is in a log, how good it is, and what it can and cannot be used for. Nothing is kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.flights.conditions import StatedConditions, stated, with_measured
from asflown.app.flights.open_log import NOTHING_STATED, Opened
from asflown.core.flight import Conditions, Flight
from asflown.errors import InputError

if TYPE_CHECKING:
    from asflown.core.fitness import Use
    from asflown.core.segments import Segments
    from asflown.core.signal.stamps import TimeBase


@dataclass(frozen=True, eq=False)
class Look:
    """A log that was looked at.

    Attributes
    ----------
    flight
        ``None`` where no time is known.
    why_no_flight
        The reason then.
    uses
        What it can be used for, by family of figures.
    """

    opened: Opened
    conditions: StatedConditions
    flight: Flight | None = None
    why_no_flight: str = ""
    timebase: TimeBase | None = None
    segments: Segments | None = None
    uses: tuple[Use, ...] = ()


def look(opened: Opened, conditions: Conditions = NOTHING_STATED) -> Look:
    """Look at a log that was opened."""
    from asflown.core.fitness import fitness
    from asflown.core.segments import segments
    from asflown.core.signal.stamps import examine

    known = stated(conditions, opened.table)
    try:
        flight = opened.flight(known.conditions)
    except InputError as error:
        return Look(opened, known, why_no_flight=str(error.what))
    known = with_measured(known, flight)
    timebase = examine(flight.traces["time"].time)
    found = segments(flight)
    return Look(opened, known, flight, "", timebase, found, fitness(flight, found, timebase))
