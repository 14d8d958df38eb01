"""A line on standard error while something takes longer than a moment, at a terminal alone."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from asflown.faces.cli.console import ascii_only, shown

#: How long nothing is said, s.
PATIENCE = 1.0


@contextmanager
def waiting(says: str, *, patience: float = PATIENCE) -> Iterator[None]:
    """Say what takes so long, once it does; the line is gone when it is done.

    Parameters
    ----------
    patience
        How long nothing is said, s.
    """
    if not sys.stderr.isatty():
        yield
        return
    lock, has_said = threading.Lock(), False

    def say() -> None:
        nonlocal has_said
        with lock:
            sys.stderr.write(f"{ascii_only(shown(says))} ...")
            sys.stderr.flush()
            has_said = True

    timer = threading.Timer(patience, say)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        with lock:
            if has_said:
                sys.stderr.write("\r\x1b[K")
                sys.stderr.flush()
