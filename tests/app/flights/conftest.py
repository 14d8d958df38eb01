"""A workplace on a store of its own."""

from __future__ import annotations

import pytest

from asflown.adapters.store import open_store
from asflown.app.workplace import Workplace


class TickingClock:
    """A clock that goes on one second each time it is looked at."""

    def __init__(self) -> None:
        self.seconds = 0

    def now(self) -> str:
        self.seconds += 1
        return f"2026-03-07T09:{self.seconds // 60:02d}:{self.seconds % 60:02d}+01:00"


@pytest.fixture
def work(tmp_path) -> Workplace:
    clock = TickingClock()
    return Workplace(open_store(tmp_path / "store", clock=clock, who="ines"), clock, "ines")
