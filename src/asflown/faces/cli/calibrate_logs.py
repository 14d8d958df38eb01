"""``asflown calibrate level, gyro, magnetometer, receiver``: from logs on the ground."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.calibrate_common import NOT_KEPT, Keep
from asflown.faces.cli.flight_options import NO_COLUMNS, Columns
from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print


def level(
    first: str,
    second: str,
    /,
    *,
    columns: Columns = NO_COLUMNS,
    keep: Keep = NOT_KEPT,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Level trim from two rests on one table, the aircraft turned by half a turn in between.

    PROPELLERS OFF. The table's slope drops out. Exit code 0 when it is fit for use, 3 when it is to be
    repeated.

    Example: asflown calibrate level before-turn.csv after-turn.csv --as-found

    Parameters
    ----------
    first
        Log of 10 s at rest on the table.
    second
        The same after half a turn on the same spot.
    """
    from asflown.app.calibrate.level import calibrate_level
    from asflown.app.calibrate.logs import motion
    from asflown.faces.cli.calibrate_common import check, finish, opened

    check(keep, print_to)
    one, two = (motion(opened(log, columns, keep, common)) for log in (first, second))
    return finish(calibrate_level(one, two), keep, common, print_to)


def gyro(
    log: str,
    /,
    *,
    temperature: str | None = None,
    columns: Columns = NO_COLUMNS,
    keep: Keep = NOT_KEPT,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Bias of the gyro at rest, its noise by Allan deviation, its bias against temperature.

    PROPELLERS OFF, motors stopped. 10 s give the bias, 10 minutes the noise, an hour or more the bias
    instability. Exit code 0 when the bias is fit for use, 3 when it is to be repeated.

    Example: asflown calibrate gyro night.csv --as-found

    Parameters
    ----------
    log
        CSV, TSV, Parquet or Arrow.
    temperature
        Column of the gyro's temperature (default: the only one whose name says temperature).
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app.calibrate.gyro import calibrate_gyro
    from asflown.faces.cli.calibrate_common import check, finish, opened
    from asflown.faces.cli.progress import waiting

    check(keep, print_to)
    found = opened(log, columns, keep, common)
    with waiting("Allan deviation"):
        made = calibrate_gyro(found, temperature)
    return finish(made, keep, common, print_to)


def magnetometer(
    log: str,
    /,
    *,
    field: Annotated[tuple[str, ...], Parameter(consume_multiple=True, negative=())] = (),
    columns: Columns = NO_COLUMNS,
    keep: Keep = NOT_KEPT,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Hard and soft iron by an ellipsoid, what is left, and which directions are still missing.

    PROPELLERS OFF. Outdoors, away from metal, the aircraft turned slowly about every axis for a minute. Exit
    code 0 when it is fit for use, 3 when it is to be repeated.

    Example: asflown calibrate magnetometer turned.csv --as-found

    Parameters
    ----------
    log
        CSV, TSV, Parquet or Arrow.
    field
        Columns along x, y and z (default: those whose names say magnetometer).
    """
    from asflown.app.calibrate.magnetometer import calibrate_magnetometer
    from asflown.faces.cli.calibrate_common import check, finish, opened_raw

    check(keep, print_to)
    made = calibrate_magnetometer(opened_raw(log, columns, common), field)
    return finish(made, keep, common, print_to)


def receiver(
    log: str,
    /,
    *,
    channels: Annotated[tuple[str, ...], Parameter(consume_multiple=True, negative=())] = (),
    columns: Columns = NO_COLUMNS,
    keep: Keep = NOT_KEPT,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Ends, middle and jitter of every receiver channel, and which are dead.

    PROPELLERS OFF, motors locked out. Move every stick to all its ends, then let go for 5 s. Exit code 0 when
    it is fit for use, 3 when it is to be repeated.

    Example: asflown calibrate receiver sticks.csv --as-found

    Parameters
    ----------
    log
        CSV, TSV, Parquet or Arrow.
    channels
        Columns, the four sticks first (default: those whose names say channel).
    """
    from asflown.app.calibrate.receiver import calibrate_receiver
    from asflown.faces.cli.calibrate_common import check, finish, opened_raw

    check(keep, print_to)
    made = calibrate_receiver(opened_raw(log, columns, common), channels)
    return finish(made, keep, common, print_to)
