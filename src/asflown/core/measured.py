"""A measured number as the computing packages return it: value and 95 % interval, or why there is none.

The computing packages do not know Evidence; :mod:`asflown.core.study` makes Evidence of these.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measured:
    """One number.

    Attributes
    ----------
    value, low, high
        In ``unit``; ``low`` and ``high`` bound the 95 % interval. All ``None`` where there is a ``reason``.
    route
        How it was reached, e.g. ``known controller``, ``model-free``, ``phase rule``.
    reason
        Why there is no number, one sentence that says what to log or fly next.
    caveats
        What limits it, e.g. ``model-conditional: no pilot power above 22 Hz``.
    """

    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = "1"
    route: str = ""
    reason: str | None = None
    caveats: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.value is None) == (self.reason is None):
            raise ValueError("a measured number has either a value or a reason")
        if self.value is None:
            return
        if self.low is None or self.high is None or not math.isfinite(self.value):
            raise ValueError("a value comes finite and with its interval")
        if not self.low <= self.value <= self.high:
            raise ValueError(f"the value lies inside its interval, got {self.low} {self.value} {self.high}")


def unmeasured(reason: str, unit: str = "1", route: str = "") -> Measured:
    """No number, for a reason."""
    return Measured(unit=unit, route=route, reason=reason)
