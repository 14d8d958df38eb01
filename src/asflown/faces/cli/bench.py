"""``asflown bench``: the checks on the bench, the values read there, and what was put right."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from cyclopts import App

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

if TYPE_CHECKING:
    from collections.abc import Callable

    from asflown.core.cards import Measure

app = App(name="bench", help_format="plaintext")


@app.default
def bench(
    aircraft: str | None = None,
    /,
    *,
    card: str | None = None,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Show the bench: the standing cards, those this refit adds, and the values read for them.

    PROPELLERS OFF, frame strapped down, people clear. Every decision, conversion that can hurt, retired
    function, port move and calibration of the refit has its check. Exit code 2 while a card has failed.

    Example: asflown bench plover --pdf cards.pdf

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    card
        Show this card alone, by its word or number.
    """
    from asflown.app import kept
    from asflown.app.cards import cards_of, failed_cards
    from asflown.app.views.bench_shown import bench_json, bench_sheet
    from asflown.app.views.cards_shown import card_json, release_says
    from asflown.core.cards import Phase
    from asflown.faces.cli.card_text import card_text
    from asflown.faces.cli.console import say
    from asflown.faces.cli.printed import check, put, told
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show, work_in
    from asflown.faces.report.kinds import cards_printed

    check(print_to)
    work = work_in(common)
    found = cards_of(work, kept.aircraft_meant(work.store, aircraft))
    states = tuple(one for one in found.states if one.card.phase is Phase.BENCH)
    if card is not None:
        states = (found.find(card),)
    paper = put(print_to, lambda: cards_printed(found, states, found.at))
    if card is not None and paper is None and not common.as_json:
        one = states[0]
        say(card_text(one.card, found.aircraft, release_says(found), one.readings), plain=common.plain)
        return DONE
    show(
        common,
        lambda: told(paper, bench_sheet(found)),
        lambda: told(paper, card_json(states[0]) if card else bench_json(found)),
    )
    return NEEDS_YOU if failed_cards(found.states) else DONE


@app.command
def read(
    card: str,
    values: tuple[str, ...] = (),
    /,
    *,
    aircraft: str | None = None,
    terminal: str | None = None,
    link: str | None = None,
    system: int | None = None,
    seconds: float | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Note values read for a card; what is not as expected is said at once (exit code 4).

    PROPELLERS OFF. With --link the aircraft itself says what it can: attitude, supply, receiver, settings.

    Example: asflown bench read meter meter=15.92 shown=15.88

    Parameters
    ----------
    card
        The card's word or number.
    values
        WHAT=VALUE, where WHAT begins like a box of the card; with --link or --terminal WHAT alone is read
        from the aircraft, and nothing at all means every box it can fill.
    aircraft
        Which aircraft (default: the current one).
    terminal
        Read the settings among the boxes from the firmware's terminal at this port; its words: asflown
        terminal.
    link
        Read over MAVLink: serial:/dev/ttyACM0@115200, udp:HOST:PORT, tcp:HOST:PORT.
    system
        With --link: which of several aircraft (default: the only one).
    seconds
        With --link: for how long each box is read (default: 3 s what is held, 8 s what is moved meanwhile).
    """
    from asflown.app import kept
    from asflown.app.bench.live import LiveAsk, read_live
    from asflown.app.bench.readings import note_values
    from asflown.app.bench.terminal import read_terminal
    from asflown.app.link.live import check_seconds
    from asflown.app.views.bench_shown import read_json, read_sheet
    from asflown.core.bench.judged import contradicted
    from asflown.errors import UsageError
    from asflown.faces.cli.session import DIFFERS, DONE, show, work_in
    from asflown.faces.wiring import links, terminals

    if link is None and system is not None:
        raise UsageError("--system belongs to --link", next_step="add --link ADDRESS")
    if link is not None and terminal is not None:
        raise UsageError("a terminal and a link are given", next_step="leave one out")
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    typed = tuple(one for one in values if "=" in one)
    names = tuple(one for one in values if "=" not in one)
    if link is None and terminal is None:
        made = note_values(work, meant, card, values)
    else:
        by_hand = note_values(work, meant, card, typed).readings if typed else ()
        if terminal is not None:
            made = read_terminal(work, meant, card, names, terminals(), terminal)
        else:
            assert link is not None
            length = None if seconds is None else check_seconds(seconds)
            ask = LiveAsk(link, system, names, length, _ready(common))
            made = read_live(work, meant, card, ask, links())
        made = replace(made, readings=(*by_hand, *made.readings))
    show(common, lambda: read_sheet(made), lambda: read_json(made))
    return DIFFERS if contradicted(made.card, made.readings) else DONE


def _ready(common: Common) -> Callable[[Measure], None] | None:
    """Asks a person at a terminal to hold the aircraft as a box wants it."""
    from asflown.app.bench.live import seconds_of
    from asflown.faces.cli.console import ask, is_terminal

    if common.as_json or not is_terminal():
        return None

    def ready(measure: Measure) -> None:
        seconds = f"{seconds_of(measure):.0f} s"
        if measure.live == "channels":
            ask(f"{measure.what}: Enter, then to both ends and let go, within {seconds} ")
        elif measure.is_change:
            ask(f"{measure.what}: Enter, then turn it and hold it, within {seconds} ")
        else:
            ask(f"{measure.what}: hold it so, then Enter ")

    return ready


@app.command
def fixed(
    card: str,
    what: Literal["settings", "wiring", "mounting", "calibration", "transmitter", "image", "nothing"],
    /,
    *,
    note: str,
    aircraft: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Say what was put right after a card failed: that card, and those it touches, are done again.

    After settings or the image were put right they are read back again before anything is signed.

    Example: asflown bench fixed motors wiring --note "motors 2 and 3 changed over at the board"

    Parameters
    ----------
    card
        The failed card's word or number.
    what
        What was put right; nothing: only the card was done wrongly.
    note
        What was done.
    aircraft
        Which aircraft (default: the current one).
    """
    from asflown.app import kept
    from asflown.app.bench.readings import fixed as job
    from asflown.app.views.bench_shown import fixed_json, fixed_sheet
    from asflown.core.bench.fixes import Fix, asks_read_back
    from asflown.faces.cli.session import DONE, show, work_in

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    fix = Fix(what)
    cards, again = job(work, meant, card, fix, note)
    unproven = asks_read_back(fix)
    show(
        common,
        lambda: fixed_sheet(cards, again, read_back=unproven),
        lambda: fixed_json(cards, again, read_back=unproven),
    )
    return DONE
