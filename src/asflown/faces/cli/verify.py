"""``asflown verify``: check everything kept."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def verify(*, common: Common = NO_OPTIONS) -> int:
    """Check every logbook and every original, and rehearse the way back of every record it can.

    Exit code 0 when all holds, 6 when something is damaged.

    Example: asflown verify
    """
    from asflown.app import logbook as job
    from asflown.app.views.logbook_shown import verified_json, verified_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    work = work_in(common)
    verified = job.verify(work.store)
    show(common, lambda: verified_sheet(verified, work.clock.now()), lambda: verified_json(verified))
    return DONE if verified.holds else 6
