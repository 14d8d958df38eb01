"""``asflown handover``: one aircraft as a self-checking folder or zip."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common


def handover(
    aircraft: str | None = None,
    /,
    *,
    out: str,
    with_private: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Put one aircraft into a self-checking folder, or a zip (BagIt, RFC 8493).

    Home position, binding keys and names of people are left out; what is left out is listed.

    Example: asflown handover plover --out plover.zip

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    out
        The folder to make, or a file that ends in .zip; it must not be there yet.
    with_private
        With home position, binding keys and names, so that the work can go on elsewhere as here.
    """
    from asflown.app import handover as job
    from asflown.app import kept
    from asflown.app.views.handover_shown import handed_json, handed_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import refuse_existing, write_bag

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    refuse_existing(out)
    handed = job.hand_over(
        work, meant, with_private=with_private, deliver=lambda files: write_bag(out, files)
    )
    at = work.clock.now()
    show(common, lambda: handed_sheet(handed, out, at), lambda: handed_json(handed, out))
    return DONE
