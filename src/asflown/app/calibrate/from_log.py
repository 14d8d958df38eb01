"""A calibration of any sensor from one log, by a word; for faces that do not ask on the way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from asflown.app.calibrate.logs import motion, whole
from asflown.app.flights import settle
from asflown.app.flights.open_log import Said, open_log
from asflown.core.calibrate.kept import Calibration
from asflown.errors import NeedsPerson, UsageError

if TYPE_CHECKING:
    from asflown.app.flights.open_log import Opened
    from asflown.app.needs import Store
    from asflown.formats.flightlog import LogSource

#: What can be calibrated from a log, and what the log must show.
SENSORS: Mapping[str, str] = {
    "accelerometer": "the aircraft on each of its sides, still for 10 s each",
    "level": "10 s at rest on a table, half a turn, 10 s at rest",
    "gyro": "at rest: 10 s for the bias, an hour for the rest",
    "magnetometer": "turned slowly about every axis, outdoors",
    "receiver": "every stick to all its ends, then let go",
}


def from_log(
    what: str,
    source: LogSource,
    assume: Mapping[str, str],
    *,
    accept: bool,
    latitude: float | None = None,
    store: Store | None = None,
) -> Calibration:
    """Compute a calibration; it is not kept yet.

    Raises
    ------
    UsageError
        For a word that is no sensor.
    InputError, NeedsPerson
        When the log does not show what is needed, or leaves its columns open.
    """
    if what not in SENSORS:
        raise UsageError(f"{what!r} is no sensor", next_step=f"one of: {', '.join(SENSORS)}")
    found = whole(open_log(source, Said(dict(assume), is_at_rest=True), store=store), source)
    needs_signals = what not in ("magnetometer", "receiver")
    return calibrated(what, _known(found, assume, accept=accept) if needs_signals else found, latitude)


def _known(found: Opened, assume: Mapping[str, str], *, accept: bool) -> Opened:
    if accept:
        return settle.accept(found, assume)
    if found.doubts:
        raise settle.needs_a_word(found)
    return found


def calibrated(what: str, opened: Opened, latitude: float | None = None) -> Calibration:
    """Compute a calibration from a log with nothing open.

    Raises
    ------
    InputError, NeedsPerson
        When the log does not show what is needed.
    """
    if what == "magnetometer":
        from asflown.app.calibrate.magnetometer import calibrate_magnetometer

        return calibrate_magnetometer(opened)
    if what == "receiver":
        from asflown.app.calibrate.receiver import calibrate_receiver

        return calibrate_receiver(opened)
    if what == "gyro":
        from asflown.app.calibrate.gyro import calibrate_gyro

        return calibrate_gyro(opened)
    if what == "level":
        from asflown.app.calibrate.level import calibrate_level

        return calibrate_level(motion(opened))
    from asflown.app.calibrate.accelerometer import calibrate_accelerometer, placed
    from asflown.app.calibrate.places import gravity_of

    put = placed([motion(opened)])
    made = calibrate_accelerometer(put, gravity_of(latitude))
    if made is None:
        side = next(iter(put.lacking), None)
        raise NeedsPerson(
            put.why_not,
            where=opened.name,
            next_step="log it again"
            if side is None
            else f"lay it {side.name} too ({side.says}), still for {put.seconds_wanted:.0f} s",
        )
    return made
