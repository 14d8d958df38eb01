"""One card as a sheet."""

from __future__ import annotations

from asflown.app.cards import Cards
from asflown.app.views.cards_shown import release_says
from asflown.app.views.sheet import Sheet, Table
from asflown.core.cards import CardState, Propellers


def card_sheet(cards: Cards, found: CardState) -> Sheet:
    """What to do, what to expect, and when to stop."""
    card = found.card
    tables = [
        _column("Set up", card.set_up),
        Table(("no.#", "do"), tuple((str(n), text) for n, text in enumerate(card.do, 1)), title="Do"),
        _column("Expect", card.expect),
        _column("Check each", tuple(item.text for item in card.items)),
        Table(("value", "unit"), tuple((one.what, one.unit) for one in card.measures), title="Write down"),
    ]
    return Sheet(
        title=f"Card {card.number}: {card.title}",
        head=(
            ("aircraft", cards.aircraft),
            ("release", release_says(cards)),
            ("when", card.phase.value),
            ("propellers", card.propellers.value.removeprefix("propellers ")),
            ("result", found.word),
        ),
        sentence=f"{card.aim}",
        warnings=safety_of(found),
        tables=tuple(table for table in tables if table.rows),
        notes=(
            f"Go on only if {card.go_on_only_if}",
            *((f"Noted: {found.result.note}",) if found.result and found.result.note else ()),
        ),
        foot=(f"card {card.id}",),
    )


def safety_of(found: CardState) -> tuple[str, ...]:
    """The sentences on top of a card: how nobody gets hurt, and when to stop."""
    card = found.card
    lines = list(card.safety)
    if card.propellers is Propellers.OFF and not any("PROPELLERS OFF" in line.upper() for line in lines):
        lines.insert(0, f"{card.propellers.value.upper()}.")
    return (*lines, *(f"Stop: {text}" for text in card.stop))


def _column(title: str, texts: tuple[str, ...]) -> Table:
    return Table((title.lower(),), tuple((text,) for text in texts), title=title)
