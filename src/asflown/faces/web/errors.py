"""Errors as pages: what was wrong, where, and numbered steps."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app.views.sheet import Sheet
from asflown.errors import AsflownError, NeedsPerson


@dataclass(frozen=True)
class Shown:
    """An error on a page."""

    says: str
    faults: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()


def shown(error: AsflownError) -> Shown:
    """An error's words."""
    says = f"{error.where}: {error.what}" if error.where else error.what
    steps = (error.next_step,) if error.next_step else ()
    return Shown(f"{says[:1].upper()}{says[1:]}.", tuple(str(fault) for fault in error.faults[:50]), steps)


def status_of(error: AsflownError, *, is_looking: bool) -> int:
    """The HTTP status of an error: 409 where a person must act first, 500 where something kept is damaged."""
    if isinstance(error, NeedsPerson):
        return 409
    if not is_looking:
        return 400
    return 500 if error.exit_code >= 6 else 404


def sheet(says: str, steps: tuple[str, ...], title: str = "Not found") -> Sheet:
    """A sheet that only says what is wrong."""
    return Sheet(title=title, head=(), sentence=says, next_act=steps)
