"""``asflown testcard``: what to fly after a refit, and how long."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print


def card(
    aircraft: str | None = None,
    /,
    *,
    margin: Annotated[tuple[str, ...], Parameter(consume_multiple=True, negative=())] = (),
    assume: float = 0.1,
    scatter: float | None = None,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Plan the flying after a refit from the baseline's own errors, and seal the margins of the verdict.

    Margins are fixed before the flight; afterwards they stand. Exit code 3 when no flying is enough.

    Example: asflown testcard plover --margin axes.roll.bandwidth=0.1

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    margin
        Own margins: QUANTITY=SIZE, a share (0.1 for 10 %) of a ratio, or a size in the quantity's unit.
    assume
        True difference to allow for, as a share of each margin.
    scatter
        Spread between flights as a factor on the usual prior, taken as known; 0: none.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app import kept
    from asflown.app.judging.testcard import make_card
    from asflown.app.views.testcard_shown import card_json, card_sheet
    from asflown.errors import UsageError
    from asflown.faces.cli.printed import check, put, told
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show, work_in
    from asflown.faces.report.kinds import test_card_printed

    stated: dict[str, float] = {}
    for text in margin:
        name, _, size = text.partition("=")
        try:
            stated[name.strip()] = float(size)
        except ValueError:
            raise UsageError(f"{text!r} is no margin", next_step="write QUANTITY=SIZE") from None
    if not 0.0 <= assume < 1.0 or (scatter is not None and not 0.0 <= scatter <= 100.0):
        raise UsageError(
            "the difference to allow for is a share from 0 to below 1, and a scatter is 0 or more",
            next_step="leave them out, or say other numbers",
        )
    check(print_to)
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    made = make_card(work, meant, stated=stated, assumed=assume, scatter=scatter)
    paper = put(
        print_to, lambda: test_card_printed(card_sheet(made), lambda: card_json(made), made.plan.flights or 0)
    )
    show(common, lambda: told(paper, card_sheet(made)), lambda: told(paper, card_json(made)))
    return DONE if made.plan.flights else NOT_ENOUGH
