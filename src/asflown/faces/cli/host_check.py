"""``asflown host-check``: why a board is seen or not, and what to do."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common

#: Waited in vain: device, link or store.
_DEVICE = 7


def host_check(*, watch: float | None = None, common: Common = NO_OPTIONS) -> int:
    """Say what this machine sees of boards: what is ready, what stands in the way, and what to do.

    Nothing is written and no board is spoken to. Exit code 0 when something is ready to be written to, 2 when
    a person must do something first, 7 when nothing new appeared in the time given.

    Example: asflown host-check --watch 60

    Parameters
    ----------
    watch
        Seconds to look until something new appears: start it, then plug the board in.
    """
    from asflown.app import host_check as job
    from asflown.app.views.host_shown import host_json, host_sheet
    from asflown.errors import UsageError
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show
    from asflown.faces.wiring import host

    if watch is not None and not 0 < watch <= job.LONGEST:
        raise UsageError(
            f"{watch:g} seconds cannot be waited", next_step=f"give more than 0 and at most {job.LONGEST:g}"
        )
    checked = job.look(host()) if watch is None else job.watch(host(), watch)
    show(common, lambda: host_sheet(checked), lambda: host_json(checked))
    if checked.waited_in_vain:
        return _DEVICE
    return DONE if checked.is_ready else NEEDS_YOU
