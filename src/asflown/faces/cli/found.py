"""``asflown found``: keep a record from a settings listing."""

from __future__ import annotations

from typing import Annotated, Literal

from cyclopts import Parameter

from asflown.errors import UsageError
from asflown.faces.cli.options import NO_OPTIONS, Common


def found(
    listing: str | None = None,
    /,
    *,
    aircraft: str | None = None,
    device: str = "board",
    release: str | None = None,
    board: str | None = None,
    at: str | None = None,
    factory: Annotated[bool, Parameter(negative=())] = False,
    extent: Literal["full", "changes-only"] | None = None,
    shape: str | None = None,
    set_aside: str | None = None,
    against: str | None = None,
    keep_anyway: str | None = None,
    repeated: Literal["last", "first"] | None = None,
    terminal: str | None = None,
    speed: int | None = None,
    link: str | None = None,
    system: int | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Keep an as-found record: the settings, with the listing's own bytes and their SHA-256.

    From a file, or with --terminal or --link from the aircraft itself: nothing is written to it. Exit code 2
    when something must be said before a plan can be made, or when a second reading differs.

    Example: asflown found before.txt --aircraft plover --release marram-4.1 --against again.txt

    Parameters
    ----------
    listing
        The settings listing, a text file; - reads standard input.
    aircraft
        Which aircraft (default: the current one).
    device
        board, or the name of a fitted device with settings of its own.
    release
        Release it was read under (default: the aircraft's; with --factory the open refit's new one).
    board
        Board it was read from (default: the aircraft's).
    at
        When it was read, e.g. 2026-03-07T09:12 (default: now).
    factory
        It is the factory listing of the release, saved before anything was set.
    extent
        Whether it shows every setting or only those that differ from factory (default: found out).
    shape
        Pin the line's shape, e.g. 'set {name} = {value}'.
    set_aside
        Lines that are no settings, e.g. 3,7-9 or all.
    against
        A second reading of the same aircraft; the record is kept only when both agree.
    keep_anyway
        Keep it though the second reading differs, for this reason.
    repeated
        Which one counts of a setting that stands more than once (default: a plan waits for it).
    terminal
        Read it over the firmware's text terminal at this port instead, twice; its words: asflown terminal.
    speed
        With --terminal: bits a second (default: as the words say).
    link
        Read it over MAVLink instead, twice: serial:/dev/ttyACM0@115200, udp:127.0.0.1:14550 (listens),
        udp-to:HOST:PORT, tcp:HOST:PORT.
    system
        With --link: which of several aircraft (default: the only one).
    """
    from asflown.app import kept, take_record
    from asflown.app.link.over_mavlink import found_over
    from asflown.app.link.read import found_at
    from asflown.app.views.mavlink_shown import found_over_json, found_over_sheet
    from asflown.app.views.record_shown import taken_json, taken_sheet
    from asflown.core.record import Extent, Moment
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show, work_in
    from asflown.faces.wiring import links, read_file, terminals

    if [listing, terminal, link].count(None) != 2:
        raise UsageError(
            "one listing is wanted",
            next_step="name its file, or --terminal PORT, or --link ADDRESS; see `asflown found --help`",
        )
    if against is not None and against == listing:
        raise UsageError(
            "the second reading is the same file", next_step="read the aircraft again into another file"
        )
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    data, name = read_file(listing) if listing is not None else (b"", "")
    request = take_record.Request(
        data=data,
        name=name,
        aircraft=meant,
        device=device,
        moment=Moment.FACTORY if factory else Moment.AS_FOUND,
        release=release,
        board=board,
        taken=at,
        extent=Extent(extent) if extent else None,
        shape=shape,
        set_aside=set_aside,
        repeated=repeated,
        against=read_file(against) if against else None,
        keep_anyway=keep_anyway,
    )
    if link is not None:
        found = found_over(work, request, links(), link, system)
        taken = found.taken
        show(common, lambda: found_over_sheet(found), lambda: found_over_json(found))
    else:
        at_port = terminal is not None
        taken = (
            found_at(work, request, terminals(speed), terminal or "")
            if at_port
            else take_record.take_record(work, request)
        )
        show(common, lambda: taken_sheet(taken), lambda: taken_json(taken))
    return NEEDS_YOU if any(finding.blocks for finding in taken.findings) else DONE
