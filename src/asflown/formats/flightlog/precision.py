"""Which columns need float64, which are times or codes, and how fast a log was written."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Numbers = npt.NDArray[np.floating]

#: Whole numbers are exact in float32 up to here (IEEE 754 binary32: 24 bits).
EXACT_IN_SINGLE = float(2**24)
_EPSILON = float(np.finfo(np.float32).eps)
_TIME_NAME = re.compile(
    r"(?:^|[^a-z])(?:time|timestamp|stamp|clock|elapsed|epoch|utc|t|us|usec|micros|millis|ms)(?:$|[^a-z])"
)
_CODES = 32
#: Rows from which the usual step is taken.
_LOOKED_AT = 5_000
#: A sample rate of a log is looked for between these, Hz.
_SLOWEST, _FASTEST = 50.0, 40_000.0
_TIME_UNITS = (
    (("s", "sec", "secs", "second", "seconds"), 1.0),
    (("ms", "msec", "millis", "milliseconds"), 1e-3),
    (("us", "usec", "µs", "μs", "micros", "microseconds"), 1e-6),
    (("ns", "nsec"), 1e-9),
)
_TIME_WORDS = frozenset(word for words, _ in _TIME_UNITS for word in words)


def needs_double(largest: float) -> bool:
    """Whether a column with this largest amount is too large for float32."""
    return largest >= EXACT_IN_SINGLE


def is_double(values: Numbers, largest: float) -> bool:
    """Whether float32 would spoil a column: too large, or its steps drown in float32's rounding.

    Rounding may be at most a hundredth of the usual change from row to row.
    """
    if needs_double(largest):
        return True
    steps = np.abs(np.diff(values[:_LOOKED_AT]))
    steps = steps[np.isfinite(steps) & (steps > 0)]
    if not len(steps):
        first = values[np.isfinite(values)][:1]
        return bool(len(first)) and abs(first[0]) > 1 and float(np.float32(first[0])) != float(first[0])
    return bool(np.median(steps) < 50.0 * _EPSILON * largest)


def is_time(name: str, unit: str | None, values: Numbers) -> bool:
    """Whether a column is a time: by its name, and hardly ever backward; it stays float64."""
    if not _TIME_NAME.search(name.lower()) and (unit or "").lower() not in _TIME_WORDS:
        return False
    head = values[: 4 * _LOOKED_AT]
    steps = np.diff(head[np.isfinite(head)])
    return len(steps) < 1 or bool(np.mean(steps >= 0) > 0.9 and steps.max() > 0)


def is_code_like(values: Numbers) -> bool:
    """Whether values are small whole numbers in a narrow range: codes, flags, of which no mean is taken."""
    finite = values[np.isfinite(values)]
    if not len(finite):
        return True
    low, high = float(finite.min()), float(finite.max())
    is_narrow = high - low <= _CODES and max(abs(low), abs(high)) < EXACT_IN_SINGLE
    return is_narrow and bool(np.array_equal(finite, np.rint(finite)))


def rate_of(values: Numbers, unit: str | None) -> float | None:
    """Rows a second that a time column shows, Hz; ``None`` where it shows none.

    The unit is the header's, or the one of s, ms, us, ns that gives a rate between 50 Hz and 40 kHz (there is
    at most one).
    """
    steps = np.diff(values[np.isfinite(values)])
    steps = steps[steps > 0]
    if len(steps) < 2:
        return None
    step = float(np.median(steps))
    word = (unit or "").lower()
    for words, seconds in _TIME_UNITS:
        rate = 1.0 / (step * seconds)
        if word in words or (word not in _TIME_WORDS and _SLOWEST <= rate <= _FASTEST):
            return rate
    return None
