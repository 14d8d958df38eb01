"""A calibration as it is kept: what was read, what came of it, before or after the work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from asflown.core.measured import Measured


class When(StrEnum):
    """Calibration practice: what it read as it came, and what it reads as it goes."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"


@dataclass(frozen=True)
class Calibration:
    """One calibration of one thing.

    Attributes
    ----------
    what
        ``voltage``, ``current``.
    readings
        What the aircraft showed, and what the meter said, in ``unit``.
    results
        Numbers with their intervals, by name.
    is_fit
        Whether it is fit for use; ``why`` says so in words.
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
