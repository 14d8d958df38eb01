"""The time of this machine."""

from __future__ import annotations

from datetime import datetime


class SystemClock:
    """The machine's clock, in its own zone."""

    def now(self) -> str:
        """ISO 8601 with zone, to the second."""
        return datetime.now().astimezone().isoformat(timespec="seconds")
