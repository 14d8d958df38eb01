"""A workplace on a store of its own; the known truth of simulated aircraft."""

from __future__ import annotations

import importlib.util
import sys

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


@pytest.fixture(scope="session")
def truth(root):
    """The module of known truths: transfer functions that share nothing with the estimator."""
    path = root / "tools" / "flights" / "truth.py"
    spec = importlib.util.spec_from_file_location("flights_truth", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["flights_truth"] = module  # its dataclasses look their module up
    spec.loader.exec_module(module)
    return module
