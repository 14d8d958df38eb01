"""Evidence: numbers with uncertainty computed from a flight or a bench measurement.

Only :mod:`asflown.core.study` makes it of what was measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval with the share of cases it is meant to cover.

    Attributes
    ----------
    coverage
        0 to 1, e.g. 0.95.
    """

    low: float
    high: float
    coverage: float

    def __post_init__(self) -> None:
        if not self.low <= self.high:
            raise ValueError(f"an interval goes from low to high, got {self.low} to {self.high}")
        if not 0 < self.coverage < 1:
            raise ValueError(f"coverage lies between 0 and 1, got {self.coverage}")


@dataclass(frozen=True, slots=True)
class Evidence:
    """One number with its unit and uncertainty, or the reason why there is none.

    Attributes
    ----------
    quantity
        What was measured, e.g. ``axes.roll.bandwidth``.
    value, interval
        In ``unit``; both ``None`` when there is a ``reason``.
    span
        Start and end of the data used, s from the start of the flight.
    method, source
        How it was computed, and the flight's or record's hash.
    route
        Which of several ways led to it, e.g. ``known controller``, ``model-free``; empty where there is one.
    caveats
        What limits it, one sentence each.
    """

    quantity: str
    unit: str
    value: float | None = None
    interval: Interval | None = None
    reason: str | None = None
    span: tuple[float, float] | None = None
    method: str = ""
    source: str = ""
    route: str = ""
    caveats: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.value is None) == (self.reason is None):
            raise ValueError(f"{self.quantity}: evidence has either a value or a reason why there is none")
        if self.value is not None and (self.interval is None or not math.isfinite(self.value)):
            raise ValueError(f"{self.quantity}: a value comes finite and with its interval")

    @property
    def has_spread(self) -> bool:
        """Whether its interval has a width: what was counted, or stands as logged, has none."""
        return self.interval is not None and self.interval.low < self.interval.high
