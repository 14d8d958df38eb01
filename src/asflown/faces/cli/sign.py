"""``asflown sign``: sign a refit off."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def sign(
    aircraft: str | None = None,
    /,
    *,
    name: str,
    role: str,
    remark: str = "",
    common: Common = NO_OPTIONS,
) -> int:
    """Sign the refit off; the as-left record becomes the aircraft's state.

    Refused unless it was read back as planned (exit code 2). What was not checked is said: without bench
    cards and trial it reads "settings proven; not bench-checked, not flown".

    Example: asflown sign plover --name "Ida Holm" --role "maintainer"

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    name
        Who signs.
    role
        In which role.
    remark
        What they want to add.
    """
    from asflown.app import kept
    from asflown.app import sign as job
    from asflown.app.views.signed import signed_json, signed_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    signed = job.sign(work, meant, job.Signature(name, role, remark))
    show(common, lambda: signed_sheet(signed), lambda: signed_json(signed))
    return DONE
