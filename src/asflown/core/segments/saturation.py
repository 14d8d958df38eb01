"""When motors stood at their limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from asflown.core.flight import Numbers
    from asflown.core.segments.slow import BoolArray, Slow

#: A value held by this share of the rows at the edge of the range is a limit and not an extreme.
PLATEAU = 5e-4
#: How near a limit counts as at it, as a motor command.
NEAR = 0.004
#: A bin is saturated when a motor stands at a limit for this share of it.
BIN_SHARE = 0.2


def saturation(slow: Slow, in_air: BoolArray) -> BoolArray:
    """(motors, n) true where a motor stood at a limit while airborne; no rows without motors."""
    masks = []
    for trace in slow.flight.family("motor"):
        known = trace.values[np.isfinite(trace.values)]
        if known.size < 100 or not in_air.any():
            masks.append(np.zeros(slow.time.size, dtype=bool))
            continue
        top, bottom = _limit(known, upper=True), _limit(known, upper=False)
        high = slow.share(trace, trace.values >= top - NEAR)
        low = slow.share(trace, trace.values <= bottom + NEAR)
        masks.append(in_air & ((high + low) >= BIN_SHARE))
    return np.array(masks) if masks else np.zeros((0, slow.time.size), dtype=bool)


def _limit(known: Numbers, *, upper: bool) -> float:
    """The limit: where many rows stand at the very extreme, that; else the end of the range 0 to 1."""
    extreme = float(known.max() if upper else known.min())
    held = np.count_nonzero(np.abs(known - extreme) <= NEAR) / known.size
    end = 1.0 if upper else 0.0
    return extreme if held >= PLATEAU and abs(extreme - end) < 0.3 else end
