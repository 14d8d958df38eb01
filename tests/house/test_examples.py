"""The examples in docstrings say what really happens, and test files have names of their own."""

from __future__ import annotations

import doctest
import importlib
from collections import Counter

import pytest
from source_tree import modules

WITH_EXAMPLES = tuple(name for name, path in modules().items() if ">>> " in path.read_text("utf-8"))


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples(name):
    result = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert result.attempted > 0
    assert result.failed == 0


def test_file_names_are_unique(root):
    counted = Counter(path.name for path in (root / "tests").rglob("*.py") if path.name != "conftest.py")
    assert [name for name, count in counted.items() if count > 1] == []
