"""How far a log's clock is off, where absolute stamps tell, and what that does to figures.

Nothing feeds it yet: no canonical signal holds absolute time. Until one does, the only word on the clock is
the suspicion of :func:`asflown.core.signal.statements.clock_suspicion`, from the rate alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.measured import Measured, unmeasured

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray

#: Seconds of absolute stamps needed.
LEAST = 20.0
#: Said with every frequency and time where nothing tells how good the clock is.
NOT_STATED = (
    "clock error not stated: a clock that is off by 1 % shifts every frequency and time constant by 1 %; "
    "log absolute (satellite) time beside the log's own to have it measured"
)


@dataclass(frozen=True, slots=True)
class Clock:
    """The log's clock against absolute time.

    Attributes
    ----------
    error
        Share by which the log's seconds are too short (positive: the log's clock runs fast), or the reason
        why it is not known.
    caveat
        Words for figures that depend on time.
    """

    error: Measured
    caveat: str


def clock_error(time: FloatArray | None = None, absolute: FloatArray | None = None) -> Clock:
    """Compare a log's stamps with absolute ones.

    Parameters
    ----------
    time, absolute
        (n,) s, the log's own stamps and absolute ones of the same rows. ``None``: not logged.

    Returns
    -------
    Clock
        Slope of ``time`` on ``absolute`` less 1: median of the slopes between pairs of points half the log
        apart (robust to late messages), with an interval from their order statistics thinned to a count of
        independent pairs.

    Source
    ------
    P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", JASA 63, 1968 (from memory).
    """
    if time is None or absolute is None or time.size != absolute.size:
        return Clock(unmeasured("no absolute time was logged beside the log's own"), NOT_STATED)
    good = np.isfinite(time) & np.isfinite(absolute)
    own, true = time[good], absolute[good]
    fresh = np.concatenate(([True], np.diff(true) > 0)) if true.size else np.zeros(0, dtype=bool)
    own, true = own[fresh], true[fresh]
    if own.size < 20 or true[-1] - true[0] < LEAST:
        return Clock(
            unmeasured(f"fewer than 20 absolute stamps over {LEAST:g} s: log satellite time for longer"),
            NOT_STATED,
        )
    half = own.size // 2
    slopes = np.sort((own[half:] - own[: own.size - half]) / (true[half:] - true[: own.size - half])) - 1.0
    value = float(np.median(slopes))
    # Two stamps share their lateness with neighbours: count one pair in four as independent.
    independent = max(4, slopes.size // 4)
    reach = 1.96 * 0.5 / independent**0.5
    low, high = np.quantile(slopes, (max(0.0, 0.5 - reach), min(1.0, 0.5 + reach)))
    error = Measured(value, min(float(low), value), max(float(high), value), "1", "absolute stamps")
    if abs(value) < 1e-4:
        return Clock(error, f"the log's clock agrees with absolute time to {abs(value):.1e}")
    return Clock(
        error,
        f"the log's clock is {'fast' if value > 0 else 'slow'} by {abs(value):.2%}: every frequency and time "
        "constant is off by as much unless corrected",
    )
