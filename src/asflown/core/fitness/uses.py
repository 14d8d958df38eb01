"""Families of figures and how far a log serves them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Family(StrEnum):
    """Figures that need the same things of a log."""

    RESPONSE = "response"
    MARGINS = "margins"
    STEP = "step"
    VIBRATION = "vibration"
    LIMIT_CYCLE = "limit cycle"
    MOTORS = "motors"
    POWER = "power"
    GROUND = "ground sensors"


class Grade(StrEnum):
    """How far."""

    USABLE = "usable"
    PARTLY = "partly"
    NOT = "not"


@dataclass(frozen=True, slots=True)
class Use:
    """One family of figures.

    Attributes
    ----------
    reasons
        Why it is not wholly usable, one sentence each; what it rests on where it is.
    next_time
        What to log or fly next time; empty where nothing is missing.
    """

    family: Family
    grade: Grade
    reasons: tuple[str, ...] = ()
    next_time: tuple[str, ...] = ()

    @property
    def statement(self) -> str:
        """One line: family, grade, reasons, what to do."""
        why = "; ".join(self.reasons)
        then = f". next: {'; '.join(self.next_time)}" if self.next_time else ""
        return f"{self.family}: {self.grade}{f' ({why})' if why else ''}{then}"
