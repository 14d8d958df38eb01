"""What every job works with: the store, the time, who works."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.needs import Clock, Store

if TYPE_CHECKING:
    from asflown.app.boards import Processors


@dataclass(frozen=True, slots=True)
class Workplace:
    """What every job works with.

    Attributes
    ----------
    who
        Who works, as it is written into decisions and gates.
    processors
        The processor tables; ``None``: nothing is planned on boards.
    """

    store: Store
    clock: Clock
    who: str
    processors: Processors | None = None
