"""``asflown calibrate level, gyro, magnetometer, receiver``: from logs on the ground."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.calibrate_common import NO_LINK, NOT_KEPT, FromLink, Keep
from asflown.faces.cli.flight_options import NO_COLUMNS, Columns
from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print


def level(
    logs: tuple[str, ...] = (),
    /,
    *,
    from_link: FromLink = NO_LINK,
    columns: Columns = NO_COLUMNS,
    keep: Keep = NOT_KEPT,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Level trim from two rests on one table, the aircraft turned by half a turn in between.

    PROPELLERS OFF. The table's slope drops out. Rest it 10 s, turn it by half a turn on its spot, rest it
    again: in one log, or a log each. Exit code 0 when it is fit for use, 3 when it is to be repeated.

    Example: asflown calibrate level turned.csv --as-found

    Parameters
    ----------
    logs
        One log with both rests, or a log of each.
    """
    from asflown.app.calibrate.level import calibrate_level
    from asflown.app.calibrate.logs import motion
    from asflown.errors import UsageError
    from asflown.faces.cli.calibrate_common import check, finish, logs_given, opened, opened_live

    check(keep, print_to)
    logs_given(logs, from_link)
    if len(logs) > 2:
        raise UsageError(f"{len(logs)} logs are given", next_step="give one with both rests, or one of each")
    if from_link.link is not None:
        found, live = opened_live(from_link, "level", common)
        made = calibrate_level(motion(found))
    else:
        live = ()
        made = calibrate_level(*(motion(opened(log, columns, keep, common)) for log in logs))
    return finish(made, keep, common, print_to, live)


def gyro(
    log: str = "",
    /,
    *,
    from_link: FromLink = NO_LINK,
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
        CSV, TSV, Parquet or Arrow; with --link none.
    temperature
        Column of the gyro's temperature (default: the only one whose name says temperature).
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app.calibrate.gyro import calibrate_gyro
    from asflown.faces.cli.calibrate_common import check, finish, logs_given, opened, opened_live
    from asflown.faces.cli.progress import waiting

    check(keep, print_to)
    logs_given((log,) if log else (), from_link)
    if from_link.link is not None:
        found, live = opened_live(from_link, "gyro", common)
    else:
        found, live = opened(log, columns, keep, common), ()
    with waiting("Allan deviation"):
        made = calibrate_gyro(found, temperature)
    return finish(made, keep, common, print_to, live)


def magnetometer(
    log: str = "",
    /,
    *,
    from_link: FromLink = NO_LINK,
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
        CSV, TSV, Parquet or Arrow; with --link none.
    field
        Columns along x, y and z (default: those whose names say magnetometer).
    """
    from asflown.app.calibrate.magnetometer import calibrate_magnetometer
    from asflown.faces.cli.calibrate_common import check, finish, logs_given, opened_live, opened_raw

    check(keep, print_to)
    logs_given((log,) if log else (), from_link)
    if from_link.link is not None:
        found, live = opened_live(from_link, "magnetometer", common)
    else:
        found, live = opened_raw(log, columns, common), ()
    made = calibrate_magnetometer(found, field)
    return finish(made, keep, common, print_to, live)


def receiver(
    log: str = "",
    /,
    *,
    from_link: FromLink = NO_LINK,
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
        CSV, TSV, Parquet or Arrow; with --link none.
    channels
        Columns, the four sticks first (default: those whose names say channel).
    """
    from asflown.app.calibrate.receiver import calibrate_receiver
    from asflown.faces.cli.calibrate_common import check, finish, logs_given, opened_live, opened_raw

    check(keep, print_to)
    logs_given((log,) if log else (), from_link)
    if from_link.link is not None:
        found, live = opened_live(from_link, "receiver", common)
    else:
        found, live = opened_raw(log, columns, common), ()
    made = calibrate_receiver(found, channels)
    return finish(made, keep, common, print_to, live)
