"""``asflown verdict``: flies as before, differs, or not enough evidence."""

from __future__ import annotations

from asflown.faces.cli.drawn import NO_FIGURES, Draw
from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print


def verdict(
    aircraft: str | None = None,
    /,
    *,
    scatter: float | None = None,
    draw: Draw = NO_FIGURES,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Judge the flights after a refit by those before it, by the margins sealed before.

    Exit code 0: flies as before; 4: differs; 3: not enough evidence, with how much more. It is noted in the
    logbook and with the refit.

    Example: asflown verdict plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    scatter
        Spread between flights as a factor on the usual prior, taken as known; 0: none.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app import kept
    from asflown.app.judging.verdict import give
    from asflown.app.views.verdict_shown import verdict_json, verdict_sheet
    from asflown.core.verdict.judge import Outcome
    from asflown.errors import UsageError
    from asflown.faces import drawings
    from asflown.faces.cli.drawn import check, noted, write
    from asflown.faces.cli.printed import check as check_print
    from asflown.faces.cli.printed import put, told
    from asflown.faces.cli.session import DIFFERS, DONE, NOT_ENOUGH, show, work_in
    from asflown.faces.report.kinds import verdict_printed

    if scatter is not None and not 0.0 <= scatter <= 100.0:
        raise UsageError("a scatter is 0 or more", next_step="leave it out, or say another number")
    check(draw)
    check_print(print_to)
    work = work_in(common)
    made = give(work, kept.aircraft_meant(work.store, aircraft), scatter=scatter)
    drawn = write(draw, lambda: drawings.of_verdict(work.store, made))
    paper = put(print_to, lambda: verdict_printed(made, drawings.of_verdict(work.store, made)))
    show(
        common,
        lambda: told(paper, noted(drawn, verdict_sheet(made))),
        lambda: told(paper, noted(drawn, verdict_json(made))),
    )
    codes = {Outcome.AS_BEFORE: DONE, Outcome.DIFFERS: DIFFERS, Outcome.NOT_ENOUGH: NOT_ENOUGH}
    return codes[made.verdict.outcome]
