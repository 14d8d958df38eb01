"""The truth and the population live in tools/flights: they judge, and are no part of the installed package."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def population(root: Path) -> ModuleType:
    """Random aircraft, tools/flights/population.py; the truth is its ``known``."""
    name = "flights_population"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, root / "tools" / "flights" / "population.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]
