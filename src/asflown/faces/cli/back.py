"""``asflown back``: go back exactly."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

if TYPE_CHECKING:
    from asflown.app.load.prepare import Ask
    from asflown.app.views.sheet import Sheet


def back(
    aircraft: str | None = None,
    /,
    *,
    out: str | None = None,
    readback: str | None = None,
    extent: Literal["full", "changes-only"] | None = None,
    shape: str | None = None,
    set_aside: str | None = None,
    rest: str | None = None,
    load: Annotated[bool, Parameter(negative=())] = False,
    image: str | None = None,
    port: str | None = None,
    propellers_off: Annotated[bool, Parameter(negative=())] = False,
    pack_unplugged: Annotated[bool, Parameter(negative=())] = False,
    accept: tuple[str, ...] = (),
    board: str | None = None,
    speed: int | None = None,
    same_board: str = "",
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Go back to the old release: the listing and the steps; then prove it by a read-back.

    The order is erase, old image, listing, read-back. With --load the old flash, as it was read back before
    the first load, is put back onto the board in its boot loader, settings too. With --readback every
    as-found setting is looked for: exit code 0 when all are there again, 4 when not.

    Example: asflown back plover --out plover-back

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    out
        New folder for the go-back listing, the original and the steps.
    readback
        A listing saved after going back; - reads standard input.
    extent
        Whether that listing shows every setting or only changes (default: found out).
    shape
        Pin the line's shape (default: as for the as-found record).
    set_aside
        Lines of it that are no settings, e.g. 3,7-9 or all.
    rest
        When it differs: write the listing with only what is still missing into this new file.
    load
        Put the old flash back onto the board (PROPELLERS OFF, PACK UNPLUGGED, board in its boot loader).
    image
        With --load: the old image's file, where no flash was read back; settings are erased then.
    port
        With --load: where the board is (default: the only one there is).
    propellers_off
        With --load: say that the propellers are off.
    pack_unplugged
        With --load: say that the pack is unplugged.
    accept
        With --load: SUBJECT=WHY for a difference of the old image that you answer.
    board
        With --load: the board's description, where it is not kept.
    speed
        With --load: of a serial line, bits a second (default: 115200).
    same_board
        With --load: why this is the same board, though what no load touches has changed.
    """
    from asflown.app import kept
    from asflown.app.back import prepare_back
    from asflown.app.load.prepare import Ask
    from asflown.app.views.wayback_shown import back_json, back_sheet
    from asflown.faces.cli.load import answers
    from asflown.faces.cli.printed import check, put, told
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.report.printed import Printed
    from asflown.faces.wiring import write_folder

    check(print_to)
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    if load:
        ask = Ask(image, board, None, answers(accept), propellers_off, pack_unplugged, port, same_board)
        return _load(common, print_to, meant, ask, speed)
    if readback is not None:
        return _prove(common, print_to, meant, readback, extent, shape, set_aside, rest)

    def deliver(files: Mapping[str, bytes]) -> str:
        return str(write_folder(out or "", files))

    ready = prepare_back(work, meant, deliver if out else None)
    paper = put(
        print_to, lambda: Printed(back_sheet(ready), lambda: back_json(ready), signs=("Went back by",))
    )
    show(common, lambda: told(paper, back_sheet(ready)), lambda: told(paper, back_json(ready)))
    return DONE


def _load(common: Common, print_to: Print, aircraft: str, ask: Ask, speed: int | None) -> int:
    from asflown.app.load.run import load_back
    from asflown.app.views.load_shown import loaded_json, loaded_sheet
    from asflown.faces.cli.load_shown import LoadProgress
    from asflown.faces.cli.printed import put, told
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.report.printed import Printed
    from asflown.faces.wiring import ports, read_file

    with LoadProgress() as progress:
        done = load_back(work_in(common), aircraft, ask, read_file, ports(speed), progress.say)
    paper = put(
        print_to,
        lambda: Printed(loaded_sheet(done.job, done.load), lambda: loaded_json(done), signs=("Put back by",)),
    )
    show(
        common, lambda: told(paper, loaded_sheet(done.job, done.load)), lambda: told(paper, loaded_json(done))
    )
    return DONE


def _prove(
    common: Common,
    print_to: Print,
    aircraft: str,
    path: str,
    extent: str | None,
    shape: str | None,
    set_aside: str | None,
    rest: str | None,
) -> int:
    from asflown.app.back import prove_back
    from asflown.app.read_back import Reading
    from asflown.app.views.wayback_shown import back_done_json, back_done_sheet
    from asflown.core.record import Extent
    from asflown.faces.cli.printed import put, told
    from asflown.faces.cli.session import DIFFERS, DONE, show, work_in
    from asflown.faces.report.printed import Printed
    from asflown.faces.wiring import read_file, write_new

    work = work_in(common)
    data, name = read_file(path)
    reading = Reading(data, name, Extent(extent) if extent else None, shape, set_aside)
    done = prove_back(work, aircraft, reading)
    place = str(write_new(rest, done.rest.data)) if rest and done.rest else ""

    def sheet() -> Sheet:
        return back_done_sheet(done, place)

    def body() -> dict[str, Any]:
        return back_done_json(done, place)

    paper = put(print_to, lambda: Printed(sheet(), body, signs=("Compared by",)))
    show(common, lambda: told(paper, sheet()), lambda: told(paper, body()))
    return DONE if done.is_back else DIFFERS
