"""What every job works with: the store, the time, who works."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app.needs import Clock, Store


@dataclass(frozen=True, slots=True)
class Workplace:
    """What every job works with.

    Attributes
    ----------
    who
        Who works, as it is written into decisions and gates.
    """

    store: Store
    clock: Clock
    who: str
