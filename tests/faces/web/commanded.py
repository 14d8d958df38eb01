"""Commands run on the store of a folder, and folders made once for all processes of a test run."""

from __future__ import annotations

import contextlib
import fcntl
import io
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from asflown.faces.cli.main import main


def run(folder: Path, *words: str, code: int = 0) -> str:
    """What a command printed; it must end with this exit code."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        got = main([*words, "--store", str(folder / "store")])
    assert got == code, f"{words}: {got}\n{out.getvalue()}\n{err.getvalue()}"
    return out.getvalue()


def made_once(tmp_path_factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """A folder that takes long to make: made by the first of the processes that want it, for all of them."""
    base = tmp_path_factory.getbasetemp()
    base = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    folder = base / f"{name}-for-all"
    with (base / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not folder.exists():
            being_made = base / f"{name}-being-made"
            shutil.rmtree(being_made, ignore_errors=True)
            make(being_made)
            being_made.rename(folder)
    return folder
