"""Samples of the aircraft itself, recorded over a link as the log a calibration is computed from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.link.live import record
from asflown.app.link.talk import Talk
from asflown.app.needs import Links
from asflown.errors import NeedsPerson

if TYPE_CHECKING:
    from asflown.core.link.recording import Recorder, Recording


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
    name = f"system-{aircraft.system}-{asked.family}.csv"
    whole = made.time.size + made.lost
    if made.lost:
        name += f" ({100 * made.lost / whole:.2g} % lost on the link, filled in)"
    return Recorded(name, made.filled().log(), made, assume)


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
