"""``asflown calibrate write``: a calibration goes into the aircraft's own settings."""

from __future__ import annotations

from typing import Annotated, Literal

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common


def write_(
    calibration: str,
    /,
    *,
    link: str,
    system: int | None = None,
    samples: Literal["corrected", "raw"] | None = None,
    propellers_off: Annotated[bool, Parameter(negative=())] = False,
    pack_unplugged: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Write a kept calibration into the settings that store it, over MAVLink, and prove that they hold it.

    PROPELLERS OFF, PACK UNPLUGGED, the board on USB alone; say so with --propellers-off and
    --pack-unplugged. Which settings store it is what the release's overlay says by its roles
    (calibration.accelerometer.offset.x …); nothing is guessed. Exit code 4 when not every one is held.

    Example: asflown calibrate write plover-cal3 --link serial:/dev/ttyACM0 --propellers-off --pack-unplugged

    Parameters
    ----------
    calibration
        Its id; see asflown calibrate list.
    link
        serial:/dev/ttyACM0@115200, udp:HOST:PORT, tcp:HOST:PORT.
    system
        Which of several aircraft (default: the only one).
    samples
        Where the aircraft holds a calibration already: whether the samples were taken through it (readings
        over MAVLink are) or raw.
    propellers_off
        Say that the propellers are off.
    pack_unplugged
        Say that the pack is unplugged.
    """
    from asflown.app.calibrate.write import StoreAsk, store_calibration
    from asflown.app.load.prepare import Ask
    from asflown.app.views.calibrate_stored import stored_json, stored_sheet
    from asflown.faces.cli.session import DIFFERS, DONE, show, work_in
    from asflown.faces.wiring import links

    work = work_in(common)
    said = Ask(propellers_off=propellers_off, pack_unplugged=pack_unplugged)
    was_corrected = None if samples is None else samples == "corrected"
    ask = StoreAsk(calibration, link, system, was_corrected, said)
    made = store_calibration(work, ask, links())
    show(common, lambda: stored_sheet(made), lambda: stored_json(made))
    return DONE if made.is_held else DIFFERS
