"""A calibration as it is kept: what was read, what came of it, before or after the work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from asflown.core.measured import Measured
from asflown.core.record import Original


class When(StrEnum):
    """Calibration practice: what it read as it came, and what it reads as it goes."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"


@dataclass(frozen=True)
class Rows:
    """A table of a calibration: positions, channels, Allan deviations."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Samples:
    """Where samples came from.

    Attributes
    ----------
    name, sha256
        Of the log.
    used
        What of it was used, in words.
    """

    name: str
    sha256: str
    used: str


@dataclass(frozen=True)
class Calibration:
    """One calibration of one thing.

    Attributes
    ----------
    aircraft
        Empty where it was only computed, for no aircraft.
    what
        ``voltage``, ``current``, ``accelerometer``, ``level``, ``gyro``, ``magnetometer``, ``receiver``.
    readings
        Against a meter: what the aircraft showed, and what the meter said, in ``unit``.
    results
        Numbers with their intervals, by name.
    is_fit
        Whether it is fit for use; ``why`` says so in words.
    method
        In one sentence; empty: a line through meter readings (as kept before there were others).
    write
        What to write into the aircraft, best first.
    cautions
        What can hurt at this step.
    originals
        What was recorded for it.
    """

    id: str
    aircraft: str
    what: str
    when: When
    at: str
    unit: str
    readings: tuple[tuple[float, float], ...]
    results: Mapping[str, Measured]
    is_fit: bool
    why: str
    remarks: tuple[str, ...] = ()
    method: str = ""
    samples: tuple[Samples, ...] = ()
    tables: tuple[Rows, ...] = ()
    write: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    originals: tuple[Original, ...] = ()


def blank(what: str, unit: str) -> Calibration:
    """A calibration of which nothing is known yet; for no aircraft, and not kept."""
    return Calibration("", "", what, When.AS_FOUND, "", unit, (), {}, is_fit=False, why="")
