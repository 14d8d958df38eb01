"""What polars may raise, and keeping its noise away from a person's terminal."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import polars as pl

_ERROR_STREAM = 2
_lock = threading.Lock()

#: All that a call of polars on bad bytes has been seen to raise: its own errors, a panic (no Exception), and
#: what Python raises for it.
FAULTS: tuple[type[BaseException], ...] = (
    pl.exceptions.PolarsError,
    pl.exceptions.PanicException,
    OSError,
    ValueError,
    OverflowError,
    RuntimeError,
)


def said(error: BaseException) -> str:
    """The first line of a message of polars, small first letter."""
    text = (str(error).strip().splitlines() or [type(error).__name__])[0][:200]
    return text[:1].lower() + text[1:]


@contextmanager
def hushed() -> Iterator[None]:
    """Keep the trace of a panic off the terminal: polars writes it past Python to the process's error stream.

    Whatever else is written there meanwhile is lost; so it stands around single calls on
    columnar files only.
    """
    with _lock:
        try:
            kept = os.dup(_ERROR_STREAM)
        except OSError:  # there is no error stream
            yield
            return
        try:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, _ERROR_STREAM)
            os.close(nowhere)
            yield
        finally:
            with suppress(OSError):
                os.dup2(kept, _ERROR_STREAM)
            os.close(kept)
