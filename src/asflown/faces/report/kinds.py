"""Which sheets have lines to sign on, boxes to write in or a stamp when they are printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.app.views.card_sheet import safety_of
from asflown.app.views.cards_shown import card_json, release_says
from asflown.app.views.sheet import Sheet, counted
from asflown.faces.report.printed import Printed, with_drawings

if TYPE_CHECKING:
    from asflown.app.cards import Cards
    from asflown.app.carry_over import Made
    from asflown.app.judging.verdict import Given
    from asflown.app.maintenance import Maintenance
    from asflown.app.predict import Predicted
    from asflown.app.views.carry_shown import Show
    from asflown.core.calibrate.kept import Calibration
    from asflown.core.cards import CardState
    from asflown.faces.drawings import Drawings

#: Class of the stamp of an outcome.
STAMPS = {"flies as before": "as-before", "differs": "differs", "not enough evidence": "not-enough"}


def carry_printed(made: Made, folding: Show | None, foreseen: Predicted | None) -> Printed:
    """A carry-over, to be read and decided by hand."""
    from asflown.app.views.carry_json import carry_json
    from asflown.app.views.carry_shown import carry_sheet

    sheet = carry_sheet(made, folding, foreseen)
    return Printed(sheet, lambda: carry_json(made, foreseen), signs=("Read and decided",))


def maintenance_printed(made: Maintenance) -> Printed:
    """A maintenance entry, to be signed by hand too."""
    from asflown.app.views.maintenance_shown import maintenance_json, maintenance_sheet

    return Printed(maintenance_sheet(made), lambda: maintenance_json(made), signs=("Signed off",))


def calibration_printed(made: Calibration, other: Calibration | None, *, is_kept: bool) -> Printed:
    """A calibration, to be signed by hand."""
    from asflown.app.views.calibrate_shown import calibration_json, calibration_sheet

    return Printed(
        calibration_sheet(made, other, is_kept=is_kept),
        lambda: calibration_json(made, other, is_kept=is_kept),
        signs=("Calibrated",),
    )


def cards_printed(cards: Cards, states: Sequence[CardState], at: str) -> Printed:
    """Cards with boxes to write in, each on a page of its own."""
    sheet = Sheet(
        title="Cards" if len(states) > 1 else f"Card {states[0].card.number}",
        head=(("aircraft", cards.aircraft), ("date", at), ("release", release_says(cards))),
        sentence=f"{counted(len(states), 'card')}.",
        foot=(cards.aircraft, release_says(cards)),
    )
    return Printed(
        sheet,
        lambda: {"aircraft": cards.aircraft, "at": at, "cards": [card_json(found) for found in states]},
        template="cards.html",
        is_card=True,
        more={
            "cards": [
                (found.card, safety_of(found), {one.what: one.value for one in found.readings})
                for found in states
            ],
            "whose": cards.aircraft,
        },
    )


def test_card_printed(sheet: Sheet, body: Callable[[], object], flights: int) -> Printed:
    """The test card, with a row of boxes for each flight."""
    return Printed(sheet, body, template="testcard.html", is_card=True, more={"flights": max(1, flights)})


def verdict_printed(made: Given, drawings: Drawings | None) -> Printed:
    """A verdict with its stamp and figures, to be accepted by hand."""
    from asflown.app.views.verdict_shown import verdict_json, verdict_sheet

    base = with_drawings(verdict_sheet(made), lambda: verdict_json(made), drawings)
    return replace(base, stamp=STAMPS[str(made.verdict.outcome)], signs=("Accepted",))
