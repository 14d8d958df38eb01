"""What is printed: a sheet or cards, and on which paper."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from asflown.app.cards import Cards
from asflown.app.views.card_sheet import safety_of
from asflown.app.views.cards_shown import card_json, release_says
from asflown.app.views.sheet import Sheet, counted
from asflown.core.cards import CardState
from asflown.figures.figure import Figure


class Paper(StrEnum):
    """Paper in the printer; cards take half a leaf of it."""

    A4 = "a4"
    LETTER = "letter"


@dataclass(frozen=True)
class Printed:
    """One print.

    Attributes
    ----------
    body
        The same as JSON: goes along as ``record.json``.
    stamp
        Class of a verdict's stamp.
    signs
        What a person puts a name to by hand, one sign line each.
    is_card
        Whether it is taken to the bench or the field: half a leaf, boxes to write in, what stops it on top.
    more
        What its template takes beside that.
    """

    sheet: Sheet
    body: Callable[[], object]
    figures: Sequence[Figure] = ()
    stamp: str = ""
    signs: tuple[str, ...] = ()
    template: str = "sheet.html"
    is_card: bool = False
    more: Mapping[str, Any] = field(default_factory=dict)


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
        more={"cards": [(found.card, safety_of(found)) for found in states], "whose": cards.aircraft},
    )


def test_card_printed(sheet: Sheet, body: Callable[[], object], flights: int) -> Printed:
    """The test card, with a row of boxes for each flight."""
    return Printed(sheet, body, template="testcard.html", is_card=True, more={"flights": max(1, flights)})
