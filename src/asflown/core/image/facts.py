"""What is found about an image, fact by fact: agrees, differs, or not stated."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from asflown.core.image.flash import FlashMap, Sector
from asflown.core.image.model import Image


class Standing(StrEnum):
    """How a fact stands. *Not stated* is no agreement."""

    AGREES = "agrees"
    DIFFERS = "differs"
    NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact.

    Attributes
    ----------
    subject
        What was looked at, e.g. ``reset vector``.
    statement
        What was found and what was expected, in one sentence without a full stop.
    bricks
        The difference can leave a board that does not start: there is no way past it.
    """

    subject: str
    standing: Standing
    statement: str
    bricks: bool = False

    @property
    def refuses(self) -> bool:
        """Whether the image must not be written."""
        return self.bricks and self.standing is Standing.DIFFERS


def agrees(subject: str, statement: str) -> Fact:
    """A fact that agrees."""
    return Fact(subject, Standing.AGREES, statement)


def differs(subject: str, statement: str, *, bricks: bool) -> Fact:
    """A fact that differs."""
    return Fact(subject, Standing.DIFFERS, statement, bricks)


def not_stated(subject: str, statement: str) -> Fact:
    """A fact nobody stated anything about."""
    return Fact(subject, Standing.NOT_STATED, statement)


@dataclass(frozen=True, slots=True)
class Fit:
    """An optional function laid beside the room an image leaves.

    Attributes
    ----------
    flash
        Bytes it takes; ``None`` where the release does not say.
    """

    name: str
    flash: int | None
    fits: bool | None


@dataclass(frozen=True)
class Checked:
    """An image against a board.

    Attributes
    ----------
    facts
        In the order they were looked at.
    touched
        Sectors that must be erased for it.
    changed
        Of these, the ones whose content differs from the old image; ``None`` where there is no old image.
    room_left
        Bytes of flash between the image's end and what comes after it (settings, what is kept, the end).
    functions
        Each optional function of the release alone beside the room left.
    """

    image: Image
    to: FlashMap
    facts: tuple[Fact, ...]
    touched: tuple[Sector, ...] = ()
    changed: tuple[Sector, ...] | None = None
    room_left: int | None = None
    functions: tuple[Fit, ...] = field(default=())

    def standing(self, wanted: Standing) -> tuple[Fact, ...]:
        """The facts that stand so."""
        return tuple(fact for fact in self.facts if fact.standing is wanted)

    @property
    def refused(self) -> tuple[Fact, ...]:
        """Differences there is no way past."""
        return tuple(fact for fact in self.facts if fact.refuses)

    @property
    def to_answer(self) -> tuple[Fact, ...]:
        """Differences a person may answer with a reason."""
        return tuple(fact for fact in self.standing(Standing.DIFFERS) if not fact.bricks)
