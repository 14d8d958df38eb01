"""What polars may raise, and keeping its noise away from a person's terminal."""

from __future__ import annotations

import polars as pl

#: All that a call of polars on bad bytes has been seen to raise: its own errors, a panic (no Exception), and
#: what Python raises for it.
FAULTS: tuple[type[BaseException], ...] = (
    pl.exceptions.PolarsError,
    pl.exceptions.PanicException,
    OSError,
    ValueError,
    OverflowError,
    RuntimeError,
    NotImplementedError,
)


def said(error: BaseException) -> str:
    """The first line of a message of polars, small first letter."""
    text = (str(error).strip().splitlines() or [type(error).__name__])[0][:200]
    return text[:1].lower() + text[1:]
