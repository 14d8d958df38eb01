"""Which column is the time, and in which unit its steps are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asflown.core.columns.clock import DATE_AND_TIME, TIME_OF_DAY, parsed
from asflown.core.columns.kinds import Kind
from asflown.core.columns.ledger import Ledger
from asflown.core.columns.log_units import unit_of
from asflown.core.columns.sample import Sample
from asflown.core.layout import Doubt
from asflown.core.log_table import Column

#: Rates of logs, rows a second: middle and spread in natural logarithm. Common practice, no source.
_USUAL_RATE, _SPREAD = 700.0, 1.3
_SCALES = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}


@dataclass(frozen=True, slots=True)
class Stepping:
    """How a column climbs."""

    step: float
    ahead: float  # share of rows whose step is positive
    back: float
    is_whole: bool
    is_even: bool


def stepping(sample: Sample, at: int, *, is_named: bool = False) -> Stepping | None:
    """The steps of a column that climbs nearly always, ``None`` for any other."""
    steps = np.diff(sample.blocks[:, :, at], axis=1).ravel()
    ahead, back = float(np.mean(steps > 0)), float(np.mean(steps < 0))
    if back > (0.2 if is_named else 0.02) or ahead < 0.4:
        return None
    climbs = np.diff(sample.thin[:, at]) > 0
    if float(np.mean(climbs)) < (0.6 if is_named else 0.9):
        return None
    middle = float(np.median(steps[steps > 0]))
    block = sample.blocks[:, :, at]
    # Only counters and clocks step nearly alike: a slow drift that happens to climb does not.
    if float(np.mean(np.abs(steps - middle) < 0.5 * middle)) < 0.5 and ahead < 0.98 and not is_named:
        return None
    return Stepping(
        middle,
        ahead,
        back,
        bool(np.all(block == np.rint(block))),
        bool(np.all(np.abs(steps - middle) < 1e-6 * abs(middle))),
    )


def say_time(ledger: Ledger, columns: Sequence[Column], sample: Sample | None) -> None:
    """Enter what the data say about the time."""
    for place, column in enumerate(columns):
        if column.numbers is None:
            _words(ledger, place, column)
            continue
        at = sample.at(place) if sample is not None else None
        is_named = ledger.weights.get((place, "time"), 0) >= 4
        found = stepping(sample, at, is_named=is_named) if sample is not None and at is not None else None
        if found is None:
            if ledger.weights.get((place, "time"), 0) > 0:
                ledger.data(place, "time", -8.0)
            continue
        counts_rows = found.is_whole and found.is_even and found.step == 1.0
        if _is_said_otherwise(ledger, place) and not counts_rows:
            continue
        for other, name in list(ledger.weights):
            if other == place and name != "time":
                ledger.data(place, name, -12.0 if counts_rows else -4.0)
        _climbing(ledger, place, found)


def _is_said_otherwise(ledger: Ledger, place: int) -> bool:
    """A drift that happens to climb is no time where the name says what it is."""
    said = max((w for (c, n), w in ledger.weights.items() if c == place and n != "time"), default=0.0)
    return said >= 2.5 and said > ledger.weights.get((place, "time"), 0.0)


def _words(ledger: Ledger, place: int, column: Column) -> None:
    head = tuple(word for word in column.words[:200] if word.strip())[:20]
    if not head or any(not any(sign.isdigit() for sign in word) for word in head):
        return
    stamps = parsed(head)
    if np.isfinite(stamps).all() and np.all(np.diff(stamps) >= 0) and any(mark in head[0] for mark in ":-/"):
        unit = DATE_AND_TIME if "-" in head[0][1:] or "/" in head[0] else TIME_OF_DAY
        ledger.data(place, "time", 4.0, f"its words read as {unit}, the first '{head[0].strip()}'")
        ledger.unit(place, "time", unit, 8.0)


def _climbing(ledger: Ledger, place: int, found: Stepping) -> None:
    named = ledger.weights.get((place, "time"), 0.0)
    is_row_number = found.is_whole and found.is_even and found.step == 1.0
    if is_row_number and named < 3:
        ledger.data(place, "time", -8.0)
        return
    ledger.data(place, "time", 3.0 if not is_row_number else 0.5)
    scores = {unit: _likely(found, scale) for unit, scale in _SCALES.items()}
    best = max(scores, key=lambda unit: scores[unit])
    for unit, score in scores.items():
        rate = 1 / (found.step * _SCALES[unit])
        word = {"s": "seconds", "ms": "milliseconds", "us": "microseconds", "ns": "nanoseconds"}[unit]
        reason = f"it climbs in steps of {found.step:.4g} in the median: {word} at {rate:,.4g} Hz"
        ledger.unit(place, "time", unit, score, reason if unit == best else "")


def _likely(found: Stepping, scale: float) -> float:
    rate = 1 / (found.step * scale)
    score = -0.5 * (math.log(rate / _USUAL_RATE) / _SPREAD) ** 2
    if not found.is_whole:
        score -= {1.0: 0.0, 1e-3: 0.7}.get(scale, 2.0)
    elif scale == 1.0:
        score -= 3.0
    return max(score, -5.0)


def row_step(ledger: Ledger, sample: Sample, stated_factor: float | None) -> float:
    """Seconds a row, from the column that is most likely the time; not a number where there is none."""
    best = max(((w, c) for (c, n), w in ledger.weights.items() if n == "time" and w > 0), default=None)
    if best is None:
        return math.nan
    at = sample.at(best[1])
    found = stepping(sample, at, is_named=best[0] >= 4) if at is not None else None
    if found is None:
        return math.nan
    if stated_factor is not None:
        return found.step * stated_factor
    unit = ledger.best_unit(best[1], "time")
    known = unit_of(Kind.TIME, unit[0]) if unit is not None else None
    return found.step * known.factor if known is not None else math.nan


def ask_for_time(ledger: Ledger) -> None:
    """A doubt where nothing can be the time."""
    if not any(name == "time" and weight > 0 for (_, name), weight in ledger.weights.items()):
        ledger.doubt(
            Doubt(
                "time",
                "no column is the time: at what rate were the rows logged?",
                ("1000 Hz", "500 Hz", "2000 Hz", "another column"),
                "a row number counts rows, not seconds; state time='1000 Hz' or time=COLUMN",
            )
        )
