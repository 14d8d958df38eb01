"""``asflown receive``: take in what was handed over."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def receive(path: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Check a hand-over and take in what it holds: all of it or nothing.

    Exit code 6 when it is not whole.

    Example: asflown receive plover.zip

    Parameters
    ----------
    path
        A folder or zip that asflown handover made.
    """
    from asflown.app import receive as job
    from asflown.app.views.handover_shown import received_json, received_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import read_bag

    work = work_in(common)
    received = job.receive(work, read_bag(path), path)
    at = work.clock.now()
    show(common, lambda: received_sheet(received, at), lambda: received_json(received))
    return DONE
