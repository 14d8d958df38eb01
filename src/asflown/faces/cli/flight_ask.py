"""Ask a person about a log's columns, once, at a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.errors import NeedsPerson
from asflown.faces.cli.console import ask, say, say_sheet

if TYPE_CHECKING:
    from asflown.app.flights.open_log import Opened, Said
    from asflown.core.layout import Doubt
    from asflown.faces.cli.options import Common


def ask_about(opened: Opened, said: Said, common: Common) -> Opened:
    """Ask what is open, show the layout, and remember it once the person says that it holds.

    Raises
    ------
    NeedsPerson
        When the person says no, or the questions are not answered to the end.
    """
    from asflown.app.flights import layouts, settle
    from asflown.app.views.flight_layouts import proposed_sheet
    from asflown.faces.cli.session import work_in

    try:
        answers = {doubt: choice for doubt in opened.doubts if (choice := _choice(doubt)) is not None}
        if answers:
            opened = settle.answered(opened, said.assume, answers)
        say_sheet(proposed_sheet(opened), plain=common.plain)
        answer = ask("is every column read as it should be? remember it for logs with this header [y/n]: ")
    except EOFError:
        raise NeedsPerson(
            "the questions were not answered to the end", where=opened.name, next_step="run it again"
        ) from None
    if answer.lower() not in ("y", "yes"):
        raise NeedsPerson(
            "the layout was not confirmed",
            where=opened.name,
            next_step="correct it: --assume SIGNAL=COLUMN or SIGNAL=UNIT, or --layout FILE",
        )
    opened = settle.confirmed(opened)
    layouts.remember(work_in(common), opened.layout)
    return opened


def _choice(doubt: Doubt) -> int | None:
    """Which choice a person takes; ``None`` where there is nothing to choose."""
    if not doubt.choices:
        return None
    say(doubt.question)
    for number, choice in enumerate(doubt.choices, 1):
        say(f"  {number}  {choice}")
    while True:
        answer = ask(f"1 to {len(doubt.choices)} (empty: 1): ") or "1"
        if answer.isdigit() and 1 <= int(answer) <= len(doubt.choices):
            return int(answer) - 1
        if answer in doubt.choices:
            return doubt.choices.index(answer)
