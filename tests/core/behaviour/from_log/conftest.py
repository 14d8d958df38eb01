"""The outside truth that logs are made with: a controller written with scipy.signal alone."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def truth(root: Path) -> ModuleType:
    """tools/flights/bench_truth.py."""
    spec = importlib.util.spec_from_file_location(
        "bench_truth", root / "tools" / "flights" / "bench_truth.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_truth"] = module
    spec.loader.exec_module(module)
    return module
