"""The truth and the population live in tools/flights: they judge, and are no part of the installed package."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


def _loaded(root: Path, name: str) -> ModuleType:
    known = f"flights_{name}"
    if known not in sys.modules:
        spec = importlib.util.spec_from_file_location(known, root / "tools" / "flights" / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[known] = module
        spec.loader.exec_module(module)
    return sys.modules[known]


@pytest.fixture(scope="session")
def known(root: Path) -> ModuleType:
    """The known truth, tools/flights/truth.py."""
    return _loaded(root, "truth")


@pytest.fixture(scope="session")
def population(root: Path) -> ModuleType:
    """Random aircraft, tools/flights/population.py."""
    return _loaded(root, "population")
