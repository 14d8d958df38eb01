"""``asflown calibrate accelerometer``: an aircraft laid on its sides."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asflown.faces.cli.calibrate_common import NO_LINK, NOT_KEPT, FromLink, Keep
from asflown.faces.cli.flight_options import NO_COLUMNS, Columns
from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

if TYPE_CHECKING:
    from asflown.app.calibrate.live import Recorded


def accelerometer(
    logs: tuple[str, ...] = (),
    /,
    *,
    square: float | None = None,
    latitude: float | None = None,
    height: float = 0.0,
    guide: Annotated[bool, Parameter(negative=())] = False,
    skew: Annotated[bool, Parameter(negative=())] = False,
    from_link: FromLink = NO_LINK,
    columns: Columns = NO_COLUMNS,
    keep: Keep = NOT_KEPT,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Offset and scale of the accelerometer from rests on each side, with 95 % intervals.

    PROPELLERS OFF. One log in which the aircraft was laid on each side in turn, still for 10 s on each, or
    one log a side. By hand a tilt of some degrees does no harm. With three or more positions half-way
    between two sides the skew of the axes is determined too. Exit code 0 when it is fit for use, 3 when
    positions are missing or it is to be repeated. With --link the aircraft itself is read, and every step is
    said as it comes.

    Example: asflown calibrate accelerometer sides.csv --latitude 54 --as-found

    Parameters
    ----------
    logs
        CSV, TSV, Parquet or Arrow.
    square
        The aircraft sits square in a block or fixture whose sides are square to within so many degrees
        (e.g. 0.1): all twelve parameters.
    latitude
        Degrees north (south negative): gives gravity, so that the scales are known better than to 0.4 %.
    height
        m above the sea, with --latitude.
    guide
        Say which side comes next, whether it was still enough, and for how long.
    skew
        With --link: guide through half-way positions too, which show the skew of the axes.
    """
    from asflown.app.calibrate.accelerometer import calibrate_accelerometer, placed
    from asflown.app.calibrate.guides import SidesGuide
    from asflown.app.calibrate.logs import motion
    from asflown.app.calibrate.places import gravity_of, square_of
    from asflown.app.views.calibrate_guide import guide_json, guide_sheet
    from asflown.faces.cli.calibrate_common import (
        check,
        finish,
        logs_given,
        opened,
        opened_live,
        say_now,
    )
    from asflown.faces.cli.progress import waiting
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show

    check(keep, print_to)
    logs_given(logs, from_link)
    gravity = gravity_of(latitude, height)
    put_down = square_of(square)
    live: tuple[Recorded, ...] = ()
    if from_link.link is None:
        motions = [motion(opened(log, columns, keep, common)) for log in logs]
    else:
        told = SidesGuide(lambda line: say_now(line, common), put_down, with_skew=skew)
        found, live = opened_live(from_link, "accelerometer", common, watch=told)
        motions = [motion(found)]
    with waiting("looking for rests"):
        put = placed(motions, put_down)
    made = None if guide else calibrate_accelerometer(put, gravity)
    if made is None:
        show(common, lambda: guide_sheet(put), lambda: guide_json(put))
        return NOT_ENOUGH if put.why_not else DONE
    return finish(made, keep, common, print_to, live)
