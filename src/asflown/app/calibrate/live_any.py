"""A calibration of any sensor from the aircraft itself, by a word."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from asflown.app.calibrate.from_log import calibrated
from asflown.app.calibrate.guides import DO, guide_of
from asflown.app.calibrate.live import Asked, Recorded, recorded
from asflown.app.flights.open_log import Said, open_log
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.needs import Links
    from asflown.core.calibrate.kept import Calibration
    from asflown.formats.flightlog import LogSource

#: Family of signals, s that it is recorded at most, samples a second, by sensor.
RECORDED: Mapping[str, tuple[str, float, float]] = {
    "accelerometer": ("accel", 600.0, 100.0),
    "level": ("accel", 120.0, 100.0),
    "gyro": ("rate", 60.0, 100.0),
    "magnetometer": ("mag", 180.0, 50.0),
    "receiver": ("channel", 40.0, 50.0),
}


def live_calibration(
    what: str,
    links: Links,
    line: tuple[str, int | None],
    say: Callable[[str], None],
    *,
    log_of: Callable[[str, bytes], LogSource],
    seconds: float | None = None,
    latitude: float | None = None,
) -> tuple[Calibration, Recorded]:
    """Record what the sensor's calibration needs, and compute it; neither is kept yet.

    Parameters
    ----------
    line
        Address and system.
    say
        Told what to do next, one line at a time.
    log_of
        Makes a log of a name and bytes.

    Raises
    ------
    UsageError
        For a word that is no sensor.
    DeviceError, NeedsPerson, InputError
        As recording and computing do.
    """
    if what not in RECORDED:
        raise UsageError(f"{what!r} is no sensor", next_step=f"one of: {', '.join(RECORDED)}")
    family, usual, rate = RECORDED[what]
    length = usual if seconds is None else seconds
    watch = guide_of(what, say)
    say(DO.get(what, f"recording up to {length:.0f} s"))
    made = recorded(links, Asked(*line, family, length, rate), watch)
    opened = open_log(log_of(made.name, made.data), Said(made.assume, is_at_rest=True))
    say("computing")
    return calibrated(what, opened, latitude), made
