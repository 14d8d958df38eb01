"""A small share of the fuzzing in every run; `make fuzz` runs the 100,000."""

from __future__ import annotations

import importlib.util
import sys

import pytest


@pytest.fixture(scope="module")
def fuzz(root):
    sys.path.insert(0, str(root / "tools"))
    spec = importlib.util.spec_from_file_location("fuzz_readers", root / "tools" / "fuzz_readers.py")
    made = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(made)
    finally:
        sys.path.remove(str(root / "tools"))
    return made


def test_nothing_but_errors_in_words_comes_out_of_a_reader(fuzz, capsys):
    assert fuzz.run(3000, seed=20261125) == 0
    told = capsys.readouterr().out
    assert "no traceback, no hang" in told


def test_the_fuzzer_reports_what_escapes(fuzz, monkeypatch, capsys):
    """A reader that fails must end the run: otherwise the test above could not fail."""

    def broken(data):
        raise KeyError("oh")
        yield

    monkeypatch.setattr(fuzz, "READERS", {**fuzz.READERS, "notes": broken})
    assert fuzz.run(50, seed=1, only="notes") == 1
    assert "KeyError" in capsys.readouterr().out
