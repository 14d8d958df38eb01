"""The truth and the population live in tools/flights: they judge, and are no part of the installed package."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def judges(root: Path) -> tuple[ModuleType, ModuleType]:
    """``population`` and ``truth``."""
    sys.path.insert(0, str(root / "tools" / "flights"))
    import population
    import truth

    return population, truth
