"""One load of a board as it is kept: what was on the board before, what shall be on it, how far it came."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from asflown.core.record import Original


class Stage(StrEnum):
    """How far a load came. What is on the board is always looked at again; this says what may be expected."""

    KEPT = "old flash kept; nothing erased yet"
    HALF = "half written: do not fly"
    PROVEN = "read back and proven"


class What(StrEnum):
    """What is written."""

    IMAGE = "new image"
    OLD_FLASH = "old flash"
    OLD_IMAGE = "old image"


@dataclass(frozen=True, slots=True)
class Answered:
    """A difference of an image that a person answered with a reason."""

    subject: str
    statement: str
    why: str


@dataclass(frozen=True)
class Load:
    """One load.

    Attributes
    ----------
    id
        ``<refit>-load<number>``.
    wanted
        The image's file, or the old flash.
    at
        Where a raw binary belongs, and the first byte of an old flash.
    before
        The whole flash as it was read back before anything was erased.
    board, processor
        What it was written to, as the board's description says.
    loader
        What the boot loader said of itself.
    confirmed
        What a person said about propellers and pack.
    sectors
        Numbers of the sectors that were erased and written.
    seconds
        How long erasing, writing and reading back took, all runs together.
    runs
        How many runs it took.
    port
        Where the board was plugged in.
    says
        What the look at the image came to.
    was_there
        Whether the board held it already, so that nothing was written.
    started
        Whether the board was started then; ``None`` before that.
    described
        The board's description, where it was given with the load and is kept with it alone.
    """

    id: str
    aircraft: str
    refit: str
    what: What
    stage: Stage
    wanted: Original
    at: int
    before: Original
    board: str | None
    processor: str
    loader: str
    confirmed: str
    begun: str
    ended: str | None = None
    answered: tuple[Answered, ...] = ()
    sectors: tuple[int, ...] = ()
    written: int = 0
    seconds: float = 0.0
    runs: int = 1
    port: str = ""
    says: str = ""
    was_there: bool = False
    started: bool | None = None
    described: Original | None = None
    remarks: tuple[str, ...] = ()
