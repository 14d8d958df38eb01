"""``asflown load``: the image onto the board."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asflown.app.load.prepare import Ask
    from asflown.app.workplace import Workplace


def load(
    image: str | None = None,
    aircraft: str | None = None,
    /,
    *,
    port: str | None = None,
    propellers_off: Annotated[bool, Parameter(negative=())] = False,
    pack_unplugged: Annotated[bool, Parameter(negative=())] = False,
    accept: tuple[str, ...] = (),
    board: str | None = None,
    at: str | None = None,
    speed: int | None = None,
    same_board: str = "",
    wake: str | None = None,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Write the new image to the board: keep the old flash, write what differs, read every byte back.

    PROPELLERS OFF, PACK UNPLUGGED, the board on USB alone; say so with --propellers-off and
    --pack-unplugged. The board has to be in its boot loader: hold its boot button while plugging it in
    (asflown host-check says more). Needs an open refit: asflown plan. When it was cut off, run it again
    without an image: it finds out what is on the board and goes on. It never lifts a protection.

    Example: asflown load marram-5.0.bin plover --propellers-off --pack-unplugged

    Parameters
    ----------
    image
        The image's file; without one a load that was cut off goes on.
    aircraft
        Which aircraft (default: the current one).
    port
        Where the board is: usb:1-4, /dev/ttyUSB0, COM3 (default: the only one there is).
    propellers_off
        Say that the propellers are off.
    pack_unplugged
        Say that the pack is unplugged.
    accept
        SUBJECT=WHY for a difference of the image that you answer; may stand several times.
    board
        The board's description, where it is not kept.
    at
        Address of a raw binary, where the board does not state it.
    speed
        Of a serial line, bits a second (default: 115200).
    same_board
        Why this is the same board, though what no load touches has changed since a load was cut off.
    wake
        Address of the running firmware, e.g. serial:/dev/ttyACM0: it is asked over MAVLink to restart into
        its boot loader, and the board is found again.
    """
    from asflown.app import kept
    from asflown.app.image_check import address
    from asflown.app.load.prepare import Ask
    from asflown.app.load.run import load_image
    from asflown.app.views.load_shown import loaded_json, loaded_sheet
    from asflown.faces.cli.load_shown import LoadProgress
    from asflown.faces.cli.printed import check, put, told
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.report.printed import Printed
    from asflown.faces.wiring import ports, read_file

    check(print_to)
    work = work_in(common)
    image, aircraft = _meant(image, aircraft, [a.id for a in kept.all_aircraft(work.store)])
    meant = kept.aircraft_meant(work.store, aircraft)
    ask = Ask(image, board, address(at), answers(accept), propellers_off, pack_unplugged, port, same_board)
    if wake is not None:
        ask = replace(ask, port=_woken(work, meant, ask, wake))
    with LoadProgress() as progress:
        done = load_image(work, meant, ask, read_file, ports(speed), progress.say)
    paper = put(
        print_to,
        lambda: Printed(loaded_sheet(done.job, done.load), lambda: loaded_json(done), signs=("Loaded by",)),
    )
    show(
        common, lambda: told(paper, loaded_sheet(done.job, done.load)), lambda: told(paper, loaded_json(done))
    )
    return DONE


def _woken(work: Workplace, aircraft: str, ask: Ask, address: str) -> str:
    """Restart the firmware into its boot loader, once everything else holds."""
    import time

    from asflown.app.load.prepare import prepare_image
    from asflown.app.load.wake import into_boot_loader
    from asflown.faces.wiring import links, ports, read_file

    prepare_image(work, aircraft, ask, read_file)
    return into_boot_loader(links(), address, ports(), time.sleep)


def _meant(image: str | None, aircraft: str | None, known: list[str]) -> tuple[str | None, str | None]:
    """``asflown load plover`` goes on with plover's load: a lone word that names an aircraft is no image."""
    if image is not None and aircraft is None and image in known:
        return None, image
    return image, aircraft


def answers(accept: tuple[str, ...]) -> Mapping[str, str]:
    """Reason by subject.

    Raises
    ------
    UsageError
        When one is not SUBJECT=WHY.
    """
    from asflown.errors import UsageError

    made = {}
    for text in accept:
        subject, is_there, why = text.partition("=")
        if not is_there or not why.strip():
            raise UsageError(
                f"{text!r} gives no reason", next_step='write it like --accept "settings area=WHY"'
            )
        made[subject.strip()] = why.strip()
    return made
