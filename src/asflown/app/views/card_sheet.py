"""One card as a sheet."""

from __future__ import annotations

from asflown.app.cards import Cards
from asflown.app.views.cards_shown import release_says
from asflown.app.views.sheet import Sheet, Table
from asflown.core.bench.judged import judged
from asflown.core.cards import CardState, Propellers


def card_sheet(cards: Cards, found: CardState) -> Sheet:
    """What to do, what to expect, and when to stop."""
    card = found.card
    tables = [
        _column("Set up", card.set_up),
        Table(("no.#", "do"), tuple((str(n), text) for n, text in enumerate(card.do, 1)), title="Do"),
        _column("Expect", card.expect),
        Table(
            ("check", "expect"),
            tuple((item.text, item.expect) for item in card.items),
            title="Check each",
        ),
        values_table(found),
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


def values_table(found: CardState, *, named: bool = False) -> Table:
    """Every box of a card: what was read, what is expected, and whether it is so.

    Parameters
    ----------
    named
        Name the card in each row, for a table of several cards.
    """
    rows = []
    for one in judged(found.card, found.readings):
        reading = one.reading
        value = "" if reading is None else f"{reading.value} {reading.unit}".strip()
        how = "" if reading is None else reading.says or ("over the link" if reading.over_link else "by hand")
        word = {None: "", True: "as expected", False: "NOT as expected"}[one.is_as_expected]
        what = (found.card.id, one.measure.what) if named else (one.measure.what,)
        rows.append((*what, one.measure.unit, value, one.expected, word, how))
    columns = (*(("card",) if named else ()), "value", "unit", "read", "expected", "judged", "how")
    return Table(columns, tuple(rows), title="Values")


def _column(title: str, texts: tuple[str, ...]) -> Table:
    return Table((title.lower(),), tuple((text,) for text in texts), title=title)
