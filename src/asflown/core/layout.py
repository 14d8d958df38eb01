"""Which column of a log is which canonical signal, in which unit: proposed, then confirmed by a person."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from asflown.core.signals import signal


class Origin(StrEnum):
    """Where a line of a layout comes from."""

    NAME = "name"
    DATA = "data"
    NAME_AND_DATA = "name and data"
    PERSON = "person"
    REMEMBERED = "remembered"


@dataclass(frozen=True, slots=True)
class Assignment:
    """One column read as one signal.

    ``value = (number - offset) * factor``, in the signal's SI unit.

    Attributes
    ----------
    column
        Header name of the column.
    signal
        Canonical name, see :mod:`asflown.core.signals`.
    unit
        The unit the column was taken to be in, in words of the trade (``deg/s``).
    reasons
        Why, one sentence each.
    certainty
        0 to 1: how sure the proposal is; 1 for what a person said.
    """

    column: str
    signal: str
    unit: str
    factor: float = 1.0
    offset: float = 0.0
    origin: Origin = Origin.NAME
    certainty: float = 1.0
    reasons: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if signal(self.signal) is None:
            raise ValueError(f"{self.signal!r} is no canonical signal")


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question the proposal could not settle: the choices, best first, and why it matters.

    Attributes
    ----------
    statements
        What to state for each choice, in the same order: ``rate=deg/s``, ``motor.1=M1``; empty for a choice
        that needs no statement.
    """

    subject: str
    question: str
    choices: tuple[str, ...]
    why: str = ""
    statements: tuple[str, ...] = ()


@dataclass(frozen=True)
class Layout:
    """What a header's columns are. Kept by the header's fingerprint once a person confirmed it.

    Attributes
    ----------
    fingerprint
        :func:`fingerprint` of the header.
    rate_filter
        What the person declared about filtering of the logged rates, e.g. ``none`` or ``low-pass 90 Hz``;
        ``None``: not stated.
    """

    fingerprint: str
    assignments: tuple[Assignment, ...]
    unused: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    is_confirmed: bool = False
    rate_filter: str | None = None

    def of(self, name: str) -> Assignment | None:
        """The assignment of a canonical signal, ``None`` where no column carries it."""
        return next((a for a in self.assignments if a.signal == name), None)


def fingerprint(header: Sequence[str]) -> str:
    """SHA-256 (first 16 hex digits) over the header cells, in order, spaces and case ignored."""
    text = "\x1f".join("".join(cell.split()).lower() for cell in header)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
