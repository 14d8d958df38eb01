"""``asflown handover``: one aircraft as a self-checking folder or zip."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print


def handover(
    aircraft: str | None = None,
    /,
    *,
    out: str,
    with_private: Annotated[bool, Parameter(negative=())] = False,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Put one aircraft into a self-checking folder, or a zip (BagIt, RFC 8493).

    Home position, binding keys and names of people are left out; what is left out is listed.

    With --pdf the sheet that says what is in it is printed, and lies in the hand-over too, as sheet.pdf.

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
    from asflown.faces.cli.printed import Put, check, made, told
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.report.printed import Printed
    from asflown.faces.wiring import refuse_existing, write_bag, write_new

    check(print_to)
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    refuse_existing(out)
    at = work.clock.now()
    paper: Put | None = None

    def cover(handed: job.HandedOver) -> Mapping[str, bytes]:
        nonlocal paper
        data, pages = made(
            print_to,
            lambda: Printed(
                handed_sheet(handed, out, at), lambda: handed_json(handed, out), signs=("Given", "Taken")
            ),
        )
        write_new(str(print_to.pdf), data)
        paper = Put(str(print_to.pdf), pages, print_to.paper or "a4")
        return {"sheet.pdf": data}

    handed = job.hand_over(
        work,
        meant,
        with_private=with_private,
        deliver=lambda files: write_bag(out, files),
        cover=cover if print_to.pdf else None,
    )
    show(
        common,
        lambda: told(paper, handed_sheet(handed, out, at)),
        lambda: told(paper, handed_json(handed, out)),
    )
    return DONE
