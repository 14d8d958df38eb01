"""The run that counts limit cycles flies simulated aircraft; a few of its flights are flown here too."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def flights_run():
    """``tools/flights/limit_cycle_run.py`` as a module."""
    path = Path(__file__).parents[3] / "tools" / "flights" / "limit_cycle_run.py"
    before = list(sys.path)
    spec = importlib.util.spec_from_file_location("flights_limit_cycle_run", path)
    module = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path[:] = before
    return module
