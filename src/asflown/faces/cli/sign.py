"""``asflown sign``: sign a refit off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

if TYPE_CHECKING:
    from asflown.app.maintenance import Maintenance
    from asflown.app.workplace import Workplace
    from asflown.faces.cli.printed import Put


def sign(
    aircraft: str | None = None,
    /,
    *,
    name: str = "",
    role: str = "",
    remark: str = "",
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Sign the refit off; the as-left record becomes the aircraft's state.

    Refused unless it was read back as planned (exit code 2). What was not checked is said: without bench
    cards and trial it reads "settings proven; not bench-checked, not flown".

    With --pdf the maintenance entry is printed, to be signed by hand too; without a name, the last sign-off
    is printed once more.

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
    from asflown.app.maintenance import last_sign_off
    from asflown.app.views.signed import signed_json, signed_sheet
    from asflown.faces.cli.printed import check, told
    from asflown.faces.cli.session import DONE, show, work_in

    check(print_to)
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    if print_to.pdf is not None and not (name or role or remark):
        return _once_more(common, print_to, work, meant)
    signed = job.sign(work, meant, job.Signature(name, role, remark))
    paper = _entry(print_to, last_sign_off(work.store, meant)) if print_to.pdf else None
    show(common, lambda: told(paper, signed_sheet(signed)), lambda: told(paper, signed_json(signed)))
    return DONE


def _once_more(common: Common, print_to: Print, work: Workplace, aircraft: str) -> int:
    """Print the last sign-off again."""
    from asflown.app.maintenance import last_sign_off
    from asflown.app.views.maintenance_shown import maintenance_json, maintenance_sheet
    from asflown.faces.cli.printed import told
    from asflown.faces.cli.session import DONE, show

    made = last_sign_off(work.store, aircraft)
    paper = _entry(print_to, made)
    show(common, lambda: told(paper, maintenance_sheet(made)), lambda: told(paper, maintenance_json(made)))
    return DONE


def _entry(print_to: Print, made: Maintenance) -> Put | None:
    from asflown.faces.cli.printed import put
    from asflown.faces.report.kinds import maintenance_printed

    return put(print_to, lambda: maintenance_printed(made))
