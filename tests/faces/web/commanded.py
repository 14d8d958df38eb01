"""Commands run on the store of a folder."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

from asflown.faces.cli.main import main


def run(folder: Path, *words: str, code: int = 0) -> str:
    """What a command printed; it must end with this exit code."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        got = main([*words, "--store", str(folder / "store")])
    assert got == code, f"{words}: {got}\n{out.getvalue()}\n{err.getvalue()}"
    return out.getvalue()
