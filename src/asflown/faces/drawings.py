"""Which figures a sheet has: the same on the page, in print and for ``--svg``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.needs import Store

if TYPE_CHECKING:
    from asflown.app.judging.verdict import Given
    from asflown.app.logbook import Book
    from asflown.app.predict import Predicted
    from asflown.core.study.kept import FlightEvidence
    from asflown.figures.figure import Figure


@dataclass(frozen=True)
class Drawings:
    """Figures, and in words what is not drawn and why."""

    figures: Sequence[Figure]
    lacks: tuple[str, ...] = ()


def of_flight(store: Store, flight: FlightEvidence) -> Drawings:
    """Responses and steps of a kept flight, computed again from what was fitted."""
    from asflown.app.flights.redrawn import redrawn
    from asflown.app.views.flight_kept import not_drawn
    from asflown.figures.flight import kept_figures

    made = redrawn(store, flight)
    figures = kept_figures(made.axes, made.hover, made.offsets, (flight.log.sha256,))
    return Drawings(tuple(figures), not_drawn(made))


def of_verdict(store: Store, made: Given) -> Drawings:
    """Before and after overlaid, of the newest flight on each side, with what was predicted."""
    from asflown.app.judging.curves import judged_curves
    from asflown.app.views.step_margins import margins_of_flight
    from asflown.figures.compared import judged_figures

    found = judged_curves(store, made)
    lacks = tuple(f"Not drawn, {axis}: {why}." for axis, why in found.reasons.items())
    if found.before is None or found.after is None:
        return Drawings((), lacks)
    figures = judged_figures(
        found.before.axes,
        found.after.axes,
        None if made.predicted is None else made.predicted.axes,
        margins_of_flight(found.before.axes, made.margins),
        says=found.says,
        evidence=(found.before.flight.log.sha256, found.after.flight.log.sha256),
    )
    return Drawings(tuple(figures), lacks)


def of_logbook(read: Book) -> Drawings:
    """The timeline of an aircraft."""
    from asflown.app.views.timeline_shown import timeline
    from asflown.figures.timeline import timeline_figure

    made = timeline(read)
    figure = timeline_figure(made.name, made.rows, made.moments, made.ticks, made.says)
    return Drawings(() if figure is None else (figure,))


def of_prediction(made: Predicted) -> Drawings:
    """As it flew, and as it is predicted to fly."""
    from asflown.figures.compared import predicted_figures

    lacks = tuple(f"Not drawn, {axis}: {why}." for axis, why in made.reasons.items())
    return Drawings(predicted_figures(made.axes, evidence=(made.flight.id,)), lacks)
