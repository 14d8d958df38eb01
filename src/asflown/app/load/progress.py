"""How far reading or writing a flash came."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """One moment of a piece of work.

    Attributes
    ----------
    what
        What goes on: ``reading the old flash``, ``erasing sector 3``, ``writing``, ``reading back``.
    done, total
        Bytes.
    seconds
        Since this piece of work began.
    """

    what: str
    done: int
    total: int
    seconds: float

    @property
    def speed(self) -> float | None:
        """Bytes a second, ``None`` before anything can be said."""
        return self.done / self.seconds if self.done and self.seconds > 0 else None

    @property
    def left(self) -> float | None:
        """Seconds left at that speed."""
        return None if self.speed is None else (self.total - self.done) / self.speed

    @property
    def says(self) -> str:
        """In words: ``writing: 40 of 486 KiB, 10.2 KiB/s, 44 s left``."""
        parts = [f"{self.what}: {self.done // 1024} of {-(-self.total // 1024)} KiB"]
        if self.speed is not None and self.left is not None and self.seconds >= 0.5:
            parts += [f"{self.speed / 1024:.1f} KiB/s", f"{self.left:.0f} s left"]
        return ", ".join(parts)


#: Told of every moment.
Say = Callable[[Step], None]
