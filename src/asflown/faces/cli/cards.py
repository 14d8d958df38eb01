"""``asflown cards``: the bench and test cards, and what was noted on them."""

from __future__ import annotations

from typing import Annotated, Literal

from cyclopts import App, Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

app = App(name="cards", help_format="plaintext")


@app.default
def cards(
    aircraft: str | None = None,
    /,
    *,
    print_: Annotated[bool, Parameter(name="--print", negative=())] = False,
    card: str | None = None,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Show the cards: what to check by hand, what was noted, what a failed one closes.

    Exit code 2 while a card has failed.

    Example: asflown cards plover --print > cards.txt

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    print_
        Print every card as a page with boxes to write in.
    card
        Print this card alone, by its word or number.
    """
    from asflown.app import kept
    from asflown.app.cards import cards_of, failed_cards
    from asflown.app.views.cards_shown import cards_json, cards_sheet, release_says, shown_cards
    from asflown.faces.cli.card_text import card_text
    from asflown.faces.cli.console import say
    from asflown.faces.cli.printed import check, put, told
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show, work_in
    from asflown.faces.report.kinds import cards_printed

    check(print_to)
    work = work_in(common)
    found = cards_of(work, kept.aircraft_meant(work.store, aircraft))
    paper = put(
        print_to, lambda: cards_printed(found, (found.find(card),) if card else found.states, found.at)
    )
    if (print_ or (card and paper is None)) and not common.as_json:
        release = release_says(found)
        pages = [
            card_text(one.card, found.aircraft, release, one.readings) for one in shown_cards(found, card)
        ]
        say("\n".join(pages), plain=common.plain)
        return DONE
    show(common, lambda: told(paper, cards_sheet(found)), lambda: told(paper, cards_json(found)))
    return NEEDS_YOU if failed_cards(found.states) else DONE


@app.command
def mark(
    card: str,
    result: Literal["pass", "fail", "not-tested"],
    /,
    *,
    note: str = "",
    aircraft: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Note the result of a card; a failed one closes what follows (exit code 2 while one has failed).

    Example: asflown cards mark sticks pass --note "all seven channels"

    Parameters
    ----------
    card
        The card's word or number.
    result
        pass, fail or not-tested.
    note
        What was seen or read; needed for fail and not-tested.
    aircraft
        Which aircraft (default: the current one).
    """
    from asflown.app import cards as job
    from asflown.app import kept
    from asflown.app.views.cards_shown import cards_json, cards_sheet
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show, work_in

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    found = job.mark(work, meant, card, result.replace("-", " "), note)
    show(common, lambda: cards_sheet(found), lambda: cards_json(found))
    return NEEDS_YOU if job.failed_cards(found.states) else DONE
