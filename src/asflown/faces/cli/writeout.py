"""``asflown write-out``: prepare the listing to write, and the way back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common

Flag = Annotated[bool, Parameter(negative=())]


def writeout(
    aircraft: str | None = None,
    /,
    *,
    out: str | None = None,
    everything: Flag = False,
    changes_only: Flag = False,
    rest: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Write out the listing to write and, at the same moment, the way back.

    The folder holds a README with the order of the steps, the listing to write, the go-back listing and
    the untouched original. Refused while something is open or the way back is incomplete (exit code 2).

    Example: asflown write-out plover --out plover-to-marram-5.0

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    out
        New folder for the files (default: refit and release make its name, in this folder).
    everything
        Write every planned setting.
    changes_only
        Write only what differs from the new release's factory values (default when these are stated).
    rest
        Writing stopped half-way: write only what is still missing into this new file.
    """
    from asflown.app import kept, write_out
    from asflown.app.views.written_out import written_json, written_sheet
    from asflown.errors import UsageError
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import write_folder

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    if rest is not None:
        return _rest(common, meant, rest)
    if everything and changes_only:
        raise UsageError("--everything and --changes-only exclude each other", next_step="leave one out")
    said = True if everything else (False if changes_only else None)
    folder = out or write_out.folder_name(work, meant)

    def deliver(files: Mapping[str, bytes]) -> str:
        return str(write_folder(folder, files))

    made = write_out.write_out(work, meant, deliver, everything=said)
    show(common, lambda: written_sheet(made), lambda: written_json(made))
    return DONE


def _rest(common: Common, aircraft: str, path: str) -> int:
    from asflown.app import write_out
    from asflown.app.views.written_out import rest_json, rest_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import write_new

    work = work_in(common)
    made = write_out.rest_of(work, aircraft)
    place = str(write_new(path, made.data))
    show(
        common,
        lambda: rest_sheet(made, aircraft, place, work.clock.now()),
        lambda: rest_json(made, aircraft, place),
    )
    return DONE
