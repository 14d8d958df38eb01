"""Calibrations from the aircraft itself: its samples recorded over a link, and a person guided meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.calibrate.accelerometer import Placed, placed
from asflown.app.calibrate.logs import Motion
from asflown.app.link.live import record
from asflown.app.link.talk import Talk
from asflown.app.needs import Links
from asflown.core.calibrate.accelerometer import Case, case_of
from asflown.errors import NeedsPerson

if TYPE_CHECKING:
    from asflown.core.link.recording import Recorder, Recording

_ACCEL = ("accel.x", "accel.y", "accel.z")
_RATES = ("rate.roll", "rate.pitch", "rate.yaw")


@dataclass(frozen=True)
class Asked:
    """What is to be recorded.

    Attributes
    ----------
    family
        Of signals: ``accel``, ``rate``, ``mag``, ``channel``.
    seconds
        For how long at most.
    rate
        Samples a second.
    """

    address: str
    system: int | None
    family: str
    seconds: float
    rate: float = 100.0


@dataclass(frozen=True, eq=False)
class Recorded:
    """A recording as a log.

    Attributes
    ----------
    assume
        Which column is which canonical signal.
    """

    name: str
    data: bytes
    recording: Recording
    assume: Mapping[str, str]


def recorded(links: Links, asked: Asked, watch: Callable[[Recorder], bool] | None = None) -> Recorded:
    """Record samples of an aircraft whose motors are not armed.

    Raises
    ------
    NeedsPerson
        When its motors are armed.
    DeviceError
        When it does not tell what is asked for, falls silent, or restarts in between.
    """
    with Talk(links, asked.address, asked.system) as talk:
        aircraft = talk.greet()
        refuse_armed(talk)

        def look(recorder: Recorder) -> bool:
            refuse_armed(talk)
            return watch is not None and watch(recorder)

        made = record(talk, asked.family, asked.seconds, rate=asked.rate, watch=look)
    assume = {
        name: column
        for name, column in made.columns().items()
        if name.partition(".")[0] in ("accel", "rate", "attitude", "pack_voltage", "pack_current")
    }
    return Recorded(f"system-{aircraft.system}-{asked.family}.csv", made.log(), made, assume)


def refuse_armed(talk: Talk) -> None:
    """Nothing is done with an aircraft whose motors may turn.

    Raises
    ------
    NeedsPerson
        When they are armed.
    """
    if talk.is_armed:
        raise NeedsPerson(
            "the motors are armed: nothing is read by hand from an aircraft that may start",
            next_step="disarm it by its own means, pack unplugged, propellers off",
        )


class Guide:
    """Tells a person which side comes next while the accelerometer is recorded; ends when it is enough.

    Parameters
    ----------
    say
        Told one line at a time.
    with_skew
        Whether the skew of the axes is wanted too.
    """

    def __init__(self, say: Callable[[str], None], square: float | None, *, with_skew: bool) -> None:
        self._say, self._square, self._with_skew = say, square, with_skew
        self._said = ""
        self._done: set[str] = set()

    def __call__(self, recorder: Recorder) -> bool:
        """Look at what came so far; whether it is enough."""
        put = placed([_motion(recorder.made())], self._square)
        for (name, _), position in zip(put.sides, put.positions, strict=True):
            is_new = name not in self._done and name != "between sides"
            if is_new and position.seconds >= put.seconds_wanted - 0.5:
                self._done.add(name)
                self._say(f"{name}: {position.seconds:.0f} s still, enough")
        is_enough, says = self._next(put)
        if says != self._said:
            self._said = says
            self._say(says)
        return is_enough

    def _next(self, put: Placed) -> tuple[bool, str]:
        short = [
            name
            for (name, _), one in zip(put.sides, put.positions, strict=True)
            if one.seconds < put.seconds_wanted - 0.5 and name not in self._done and name != "between sides"
        ]
        seconds = f"{put.seconds_wanted:.0f} s"
        if short:
            return False, f"{short[-1]}: keep it still, {seconds} are wanted"
        if put.lacking:
            side = put.lacking[0]
            return False, f"lay it {side.name} ({side.says}) and keep it still for {seconds}"
        rests = put.rests
        if self._with_skew and rests is not None and case_of(rests, None)[0] is not Case.GENERAL:
            if not put.between:
                return False, f"prop it half-way between any two sides for {seconds}"
            one, two = put.between[0]
            return False, f"prop it half-way between {one.name} and {two.name} for {seconds}"
        return True, "enough"


def _motion(recording: Recording) -> Motion:
    import numpy as np

    rows = np.array([recording.values[name] for name in _ACCEL])
    has_rates = all(name in recording.values for name in _RATES)
    rates = np.array([recording.values[name] for name in _RATES]) if has_rates else None
    first = float(recording.time[0])
    seconds = float(recording.time[-1]) - first
    return Motion("the link", "", seconds, ((rows, rates, max(recording.rate, 1.0), 0.0),))
