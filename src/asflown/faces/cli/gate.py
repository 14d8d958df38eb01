"""``asflown gate``: what must be looked at on the way."""

from __future__ import annotations

from typing import Literal

from asflown.faces.cli.options import NO_OPTIONS, Common


def gate(
    name: str | None = None,
    answer: Literal["passed", "failed", "impossible", "skipped"] | None = None,
    /,
    *,
    why: str = "",
    aircraft: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Answer a gate with the fact or the reason; without a name, show them all.

    A gate nobody answered stands as *not stated* on the sign-off.

    Example: asflown gate baseline-flight passed --why "log 41, 3 min, opens"

    Parameters
    ----------
    name
        The gate: baseline-flight, second-reading, image, before-loading, trial-flight, verdict.
    answer
        passed, failed, impossible or skipped.
    why
        The fact or the reason, for the logbook.
    aircraft
        Which aircraft (default: the current one).
    """
    from asflown.app import cards as job
    from asflown.app import kept, state
    from asflown.app.views.cards_shown import gates_json, gates_sheet
    from asflown.errors import UsageError
    from asflown.faces.cli.session import DONE, show, work_in

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    if name is None:
        found = state.last_job(work, meant)
    elif answer is None:
        raise UsageError(
            f"what is the answer to {name!r}?", next_step="add passed, failed, impossible or skipped"
        )
    else:
        found = job.answer_gate(work, meant, name, answer, why)
    show(common, lambda: gates_sheet(found, work.clock.now()), lambda: gates_json(found))
    return DONE
