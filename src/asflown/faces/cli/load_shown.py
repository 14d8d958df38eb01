"""How far a load came, as one line on standard error, at a terminal alone."""

from __future__ import annotations

import sys
import time
from types import TracebackType

from asflown.app.load.progress import Step
from asflown.faces.cli.console import ascii_only

#: How often the line is written anew, s.
_EVERY = 0.1


class LoadProgress:
    """A line that is written over; without a terminal there is none."""

    def __init__(self) -> None:
        self._last, self._what = 0.0, ""
        self._is_terminal = sys.stderr.isatty()

    def __enter__(self) -> LoadProgress:
        return self

    def say(self, step: Step) -> None:
        """Show a moment."""
        now = time.monotonic()
        is_new = step.what != self._what
        if not self._is_terminal or (not is_new and now - self._last < _EVERY and step.done < step.total):
            return
        self._last, self._what = now, step.what
        sys.stderr.write(f"\r{ascii_only(step.says)}\x1b[K")
        sys.stderr.flush()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._is_terminal and self._what:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
