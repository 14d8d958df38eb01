"""What goes to the field, and what came back."""

from __future__ import annotations

from typing import Any

from asflown.app.field import FieldSheet, Taken
from asflown.app.views.card_sheet import safety_of
from asflown.app.views.cards_shown import claim, release_says
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.app.views.testcard_shown import card_sheet
from asflown.app.views.wayback_shown import back_sheet
from asflown.core.cards import CardState
from asflown.core.field import print_of


def field_sheet_made(made: FieldSheet, place: str) -> Sheet:
    """That a field sheet was made, and what is in it."""
    flights = 0 if made.card is None else made.card.plan.flights or 0
    rows = (
        ("cards", str(len(made.cards.states))),
        ("test card", made.no_card or counted(flights, "flight")),
        ("way back", made.no_back or "its steps"),
    )
    return Sheet(
        "Field sheet",
        _head(made),
        f"{place} works on a phone without a network: fill it in, save the entries, bring them back.",
        tables=(Table(("what", "in it"), rows),),
        notes=(
            "It holds no settings listing; its cards name the settings they are about.",
            "To go back, the go-back listing is needed beside it: asflown back --out FOLDER.",
        ),
        next_act=("take the entries in afterwards: asflown field take FILE",),
    )


def _head(made: FieldSheet) -> tuple[tuple[str, str], ...]:
    return (
        ("aircraft", made.cards.aircraft),
        ("refit", made.refit.id),
        ("date", made.cards.at),
        ("release", release_says(made.cards)),
    )


def field_json_made(made: FieldSheet, place: str) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "aircraft": made.cards.aircraft,
        "refit": made.refit.id,
        "file": place,
        "cards": [found.card.id for found in made.cards.states],
        "test_card": {"flights": None if made.card is None else made.card.plan.flights, "why": made.no_card},
        "way_back": {"in_it": made.back is not None, "why": made.no_back},
    }


def field_data(made: FieldSheet) -> dict[str, Any]:
    """What the template of a field sheet is filled with."""
    flights = 0 if made.card is None else made.card.plan.flights or 0
    back = None if made.back is None else back_sheet(made.back)
    says = claim(made.cards)
    return {
        "sheet": Sheet(
            "Field sheet",
            _head(made),
            f"{counted(len(made.cards.states), 'card')}. {says[:1].upper()}{says[1:]}.",
        ),
        "aircraft": made.cards.aircraft,
        "refit": made.refit.id,
        "cards": [_card(found) for found in made.cards.states],
        "test_card": None if made.card is None else card_sheet(made.card),
        "no_card": made.no_card,
        "flights": flights,
        "back": back,
        "no_back": made.no_back,
    }


def _card(found: CardState) -> dict[str, Any]:
    card = found.card
    return {
        "card": card,
        "safety": safety_of(found),
        "print": print_of(card),
        "word": found.word,
        "note": found.result.note if found.result else "",
    }


def taken_sheet(taken: Taken) -> Sheet:
    """What became of the entries."""
    entries = taken.entries
    rows = [
        *((one.card, one.result, "noted", one.note) for one in taken.taken),
        *((one.card, one.result, "taken before", one.note) for one in taken.were_there),
        *((one.card, one.result, "not noted", why) for one, why in taken.refused),
    ]
    flown = tuple((str(one.number), one.log, one.seconds, one.note) for one in taken.flown)
    logs = [one.log for one in taken.flown if one.log]
    return Sheet(
        "Field entries",
        (
            ("aircraft", entries.aircraft),
            ("refit", entries.refit),
            ("filled in by", entries.name or "not stated"),
        ),
        f"{counted(len(taken.taken), 'card')} noted, {len(taken.were_there)} taken before,"
        f" {len(taken.refused)} not noted; {counted(len(taken.flown), 'flight')} written down.",
        warnings=tuple(f"{one.card} ({one.result}) was not noted: {why}" for one, why in taken.refused),
        tables=tuple(
            table
            for table in (
                Table(("card", "result", "entry", "note or reason"), tuple(rows)),
                Table(("flight#", "log", "seconds", "note"), flown, title="Flights written down"),
            )
            if table.rows
        ),
        next_act=(
            *(f"bring the log: asflown flight add {log} {entries.aircraft} --after" for log in logs[:1]),
            f"see the cards: asflown cards {entries.aircraft}",
        ),
    )


def taken_json(taken: Taken) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "aircraft": taken.entries.aircraft,
        "refit": taken.entries.refit,
        "name": taken.entries.name,
        "noted": [{"card": one.card, "result": one.result} for one in taken.taken],
        "taken_before": [one.card for one in taken.were_there],
        "not_noted": [{"card": one.card, "result": one.result, "why": why} for one, why in taken.refused],
        "flown": [
            {"number": one.number, "log": one.log, "seconds": one.seconds, "note": one.note}
            for one in taken.flown
        ],
    }
