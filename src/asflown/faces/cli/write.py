"""``asflown write``: the plan onto the aircraft, over a link."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common


def write(
    aircraft: str | None = None,
    /,
    *,
    terminal: str | None = None,
    link: str | None = None,
    system: int | None = None,
    propellers_off: Annotated[bool, Parameter(negative=())] = False,
    pack_unplugged: Annotated[bool, Parameter(negative=())] = False,
    back: Annotated[bool, Parameter(negative=())] = False,
    speed: int | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Write what was written out over the firmware's terminal or MAVLink, store, restart, and read it back.

    PROPELLERS OFF, PACK UNPLUGGED, the board on USB alone; say so with --propellers-off and
    --pack-unplugged. Over a terminal: line by line, each paced by its answer; stopped at the first refusal
    of a safety setting; what is missing is written again. Over MAVLink: only what differs, each
    acknowledged with the value now held. What is read afterwards alone decides. Cut off, run it again: it
    reads first and writes what is missing. Exit code 0 as left = as planned, 4 when not.

    Example: asflown write plover --terminal /dev/ttyACM0 --propellers-off --pack-unplugged

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    terminal
        Port of the board's text terminal, e.g. /dev/ttyACM0 or COM3; its words: asflown terminal.
    link
        MAVLink instead: serial:/dev/ttyACM0@115200, udp:127.0.0.1:14550 (listens), udp-to:HOST:PORT,
        tcp:HOST:PORT.
    system
        With --link: which of several aircraft (default: the only one).
    propellers_off
        Say that the propellers are off.
    pack_unplugged
        Say that the pack is unplugged.
    back
        Write what was found instead, onto the old release, and prove that everything is as found.
    speed
        Bits a second (default: as the words say).
    """
    from asflown.app import kept
    from asflown.app.link.over_mavlink import write_back_over, write_over
    from asflown.app.link.write import write_at, write_back_at
    from asflown.app.load.prepare import Ask
    from asflown.app.load.progress import Step
    from asflown.app.views.mavlink_shown import written_mav_json, written_mav_sheet
    from asflown.app.views.terminal_shown import written_over_json, written_over_sheet
    from asflown.errors import UsageError
    from asflown.faces.cli.load_shown import LoadProgress
    from asflown.faces.cli.session import DIFFERS, DONE, NEEDS_YOU, show, work_in
    from asflown.faces.wiring import links, terminals

    if (terminal is None) == (link is None):
        raise UsageError(
            "one way to the aircraft is wanted",
            next_step="--terminal /dev/ttyACM0, or --link udp:127.0.0.1:14550",
        )
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    ask = Ask(propellers_off=propellers_off, pack_unplugged=pack_unplugged)
    if link is not None:
        over = (write_back_over if back else write_over)(work, meant, ask, links(), link, system)
        show(common, lambda: written_mav_sheet(over), lambda: written_mav_json(over))
        return DONE if over.is_as_planned else DIFFERS
    with LoadProgress() as progress:
        made = (write_back_at if back else write_at)(
            work,
            meant,
            ask,
            terminals(speed),
            terminal or "",
            lambda done, total: progress.say(Step(f"line {done} of {total}", done, total, 0.0)),
        )
    show(common, lambda: written_over_sheet(made), lambda: written_over_json(made))
    if made.stopped_at is not None:
        return NEEDS_YOU
    return DONE if made.is_as_planned else DIFFERS
