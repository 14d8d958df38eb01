"""A column of time stamps in seconds: scaled, parsed, and counters that ran over undone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import TimeFault
from asflown.core.layout import Assignment
from asflown.core.log_table import Column

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray

DATE_AND_TIME, TIME_OF_DAY = "date and time", "time of day"
#: Where counters run over.
WIDTHS = (2.0**16, 2.0**24, 2.0**31, 2.0**32, 2.0**53)


def seconds(column: Column, line: Assignment) -> tuple[FloatArray, tuple[TimeFault, ...]]:
    """Stamps in s, not a number where unreadable."""
    if column.numbers is None:
        return parsed(column.words), ()
    numbers = column.numbers.astype(np.float64)
    width, turns = wraps(numbers)
    faults: tuple[TimeFault, ...] = ()
    if width:
        first = float(numbers[turns[0]] - numbers[0]) * line.factor
        numbers[np.isfinite(numbers)] += _carried(numbers, turns) * width
        what = f"the time counter runs over at {width:.0f} {len(turns)} times; counted on"
        faults = (TimeFault("wrap", len(turns), first, what),)
    return (numbers - line.offset) * line.factor, faults


def wraps(numbers: FloatArray) -> tuple[float, list[int]]:
    """Where a counter runs over: its width (0.0: it does not) and the rows before each turn."""
    rows = np.flatnonzero(np.isfinite(numbers))
    steps = np.diff(numbers[rows])
    back = np.flatnonzero(steps < 0)
    if back.size == 0 or back.size > 0.2 * steps.size:
        return 0.0, []
    ahead = steps[steps > 0]
    usual = float(np.median(ahead)) if ahead.size else 0.0
    for width in WIDTHS:
        near = np.abs(steps[back] + width - usual) < max(50 * usual, 1e-3 * width)
        if usual > 0 and near.any() and float(numbers[rows].max()) < width and float(steps.min()) >= -width:
            return width, [int(rows[i]) for i in back[near]]
    return 0.0, []


def _carried(numbers: FloatArray, turns: list[int]) -> FloatArray:
    """How often the counter has run over at each finite row."""
    rows = np.flatnonzero(np.isfinite(numbers))
    return np.searchsorted(np.asarray(turns), rows, side="left").astype(np.float64)


def parsed(words: tuple[str, ...]) -> FloatArray:
    """Dates with times, or times of day, as seconds; midnight passed is counted on."""
    head = next((word for word in words if word.strip()), "").strip()
    if "-" in head[1:] or "T" in head or head.count("/") == 2:
        return _dates(words)
    return _past_midnight(_times_of_day(words))


def _dates(words: tuple[str, ...]) -> FloatArray:
    texts = [
        word.strip().replace("/", "-").replace(" ", "T", 1).partition("+")[0].rstrip("Zz") for word in words
    ]
    try:
        stamps = np.array(texts, dtype="datetime64[us]")
    except ValueError:
        stamps = np.array([_one_date(text) for text in texts], dtype="datetime64[us]")
    made = stamps.astype(np.int64).astype(np.float64) / 1e6
    made[np.isnat(stamps)] = np.nan
    return made


def _one_date(text: str) -> np.datetime64:
    try:
        return np.datetime64(text, "us")
    except ValueError:
        return np.datetime64("NaT", "us")


def _times_of_day(words: tuple[str, ...]) -> FloatArray:
    made = np.full(len(words), np.nan)
    for row, word in enumerate(words):
        parts = word.strip().split(":")
        try:
            values = [float(part) for part in parts]
        except ValueError:
            continue
        if 2 <= len(values) <= 3:
            made[row] = sum(value * 60.0**power for power, value in enumerate(reversed(values)))
            if len(values) == 2:
                made[row] = values[0] * 3600 + values[1] * 60
    return made


def _past_midnight(stamps: FloatArray) -> FloatArray:
    rows = np.flatnonzero(np.isfinite(stamps))
    turns = np.flatnonzero(np.diff(stamps[rows]) < -43200.0)
    if turns.size:
        stamps[rows] += 86400.0 * np.searchsorted(turns, np.arange(rows.size), side="left")
    return stamps
