"""``asflown readback``: as left against as planned."""

from __future__ import annotations

from typing import Literal

from asflown.faces.cli.options import NO_OPTIONS, Common


def readback(
    listing: str,
    /,
    *,
    aircraft: str | None = None,
    extent: Literal["full", "changes-only"] | None = None,
    shape: str | None = None,
    set_aside: str | None = None,
    rest: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Read back what is on the aircraft now and compare it with the plan, setting by setting.

    Exit code 0 when as left = as planned, 4 when it differs: then the aircraft is partly written, do not
    fly, and the ways on and back are named.

    Example: asflown readback after.txt

    Parameters
    ----------
    listing
        A listing saved from the board after storing and restarting; - reads standard input.
    aircraft
        Which aircraft (default: the current one).
    extent
        Whether it shows every setting or only those that differ from factory (default: found out).
    shape
        Pin the line's shape (default: as for the as-found record).
    set_aside
        Lines that are no settings, e.g. 3,7-9 or all.
    rest
        When it differs: write the listing with only what is still missing into this new file.
    """
    from asflown.app import kept, read_back
    from asflown.app.views.read_back_shown import read_back_json, read_back_sheet
    from asflown.core.record import Extent
    from asflown.faces.cli.session import DIFFERS, DONE, show, work_in
    from asflown.faces.wiring import read_file, write_new

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    data, name = read_file(listing)
    reading = read_back.Reading(data, name, Extent(extent) if extent else None, shape, set_aside)
    done = read_back.read_back(work, meant, reading)
    place = str(write_new(rest, done.rest.data)) if rest and done.rest else ""
    show(common, lambda: read_back_sheet(done, place), lambda: read_back_json(done, place))
    return DONE if done.compared.is_as_planned else DIFFERS
