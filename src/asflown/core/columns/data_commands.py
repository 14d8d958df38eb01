"""Motor commands, throttle, sticks, controller outputs: the span their numbers run over."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from asflown.core.columns.kinds import Kind, kind_of
from asflown.core.columns.ledger import Ledger
from asflown.core.columns.log_units import LogUnit, span_unit
from asflown.core.columns.sample import Sample
from asflown.core.layout import Doubt

Scored = list[tuple[LogUnit, float, str]]
Question = tuple[str, tuple[str, ...], str]

#: Upper ends of commands that are counts. Common practice, no source.
_ENDS = (255.0, 1000.0, 1023.0, 2000.0, 2047.0, 4095.0, 10000.0, 65535.0)


def say_spans(ledger: Ledger, sample: Sample) -> None:
    """Enter which span the numbers of each command family run over."""
    sets: dict[str, set[int]] = defaultdict(set)
    for place, name in ledger.readings().items():
        if kind_of(name) in (Kind.SHARE, Kind.STICK, Kind.CONTROL):
            family = name if name == "stick.throttle" else name.partition(".")[0]
            sets[family].add(place)
    for family, places in sets.items():
        ats = [at for place in places if (at := sample.at(place)) is not None]
        if not ats:
            continue
        low, high = float(sample.low[ats].min()), float(sample.high[ats].max())
        values = sample.flat[:, ats]
        end = float(np.mean(np.max(values, axis=1) >= high))
        kind = kind_of(
            "stick.roll"
            if family.startswith("stick")
            else f"{family}.1"
            if family == "motor"
            else "throttle"
            if family == "throttle"
            else "control.roll"
        )
        speed = next((ledger.speed_commands[p] for p in sorted(places) if p in ledger.speed_commands), None)
        scores, told = _spans(kind, low, high, end) if speed is None else _speeds(high, speed)
        for place in places:
            for unit, score, reason in scores:
                ledger.unit(place, family.partition(".")[0], unit.word, score, reason)
            if told is not None and not _states_unit(ledger, place, family):
                ledger.doubt(Doubt(family, told[0], told[1], told[2]))


def _speeds(high: float, word: str) -> tuple[Scored, Question]:
    """Commands that are rotor speeds: full command is not known, the largest seen stands for it."""
    end = float(f"{high:.4g}")
    unit = span_unit(0, end, Kind.SHARE, word)
    reason = f"commands in {word}; the largest seen, {end:g}, stands for full command"
    return [(unit, 1.0, reason)], (
        "what speed is full command?",
        (unit.word, f"state motor='0..SPEED {word}'"),
        reason,
    )


def _states_unit(ledger: Ledger, place: int, family: str) -> bool:
    table = ledger.units.get((place, family.partition(".")[0]), {})
    return any(weight >= 5 for weight in table.values())


def _spans(kind: Kind, low: float, high: float, end: float) -> tuple[Scored, Question | None]:
    seen = f"its numbers run from {low:.4g} to {high:.4g}"
    if kind is Kind.SHARE:
        return _share(low, high, end, seen)
    if kind is Kind.CONTROL:
        return _control(seen), None
    return _stick(low, high, seen), None


def _share(low: float, high: float, end: float, seen: str) -> tuple[Scored, Question | None]:
    kind = Kind.SHARE
    if low >= -0.02 and high <= 1.05:
        return [(LogUnit("0..1"), 2.0, seen)], None
    if low >= -1.05 and high <= 1.05:
        return [(span_unit(-1, 1, kind), 2.0, seen)], None
    if low >= -0.5 and high <= 101:
        return [(span_unit(0, 100, kind, "%"), 2.0, seen)], None
    if low >= 850 and high <= 2250 and high > 1050:
        return [(span_unit(1000, 2000, kind, "us"), 2.5, f"{seen}: a pulse width in microseconds")], None
    if low < -0.5 or high <= 0:
        return [], None
    ends = [value for value in _ENDS if value >= high * 0.9995]
    if ends and end > 0.001 and high > 0.999 * ends[0]:
        return [(span_unit(0, ends[0], kind), 2.0, f"{seen} and stand at {ends[0]:g}: its end")], None
    choices = tuple(f"0..{value:g}" for value in (*ends[:3], *([] if ends else [round(high, 4)])))
    return [(span_unit(0, value, kind), 0.5 - 0.4 * i, seen) for i, value in enumerate(ends[:3])], (
        "what is full command?",
        choices,
        f"{seen}; the end of the span is not seen",
    )


def _control(seen: str) -> Scored:
    return [(LogUnit("own scale"), 1.6, f"{seen}; the scale of a controller output is its own")]


def _stick(low: float, high: float, seen: str) -> Scored:
    kind = Kind.STICK
    if low >= 850 and high <= 2250:
        return [(span_unit(1000, 2000, kind, "us"), 2.5, f"{seen}: a pulse width in microseconds")]
    size = max(abs(low), abs(high))
    if size <= 1.05:
        return (
            [(LogUnit("-1..1"), 2.0, seen)]
            if low < -0.05
            else [(span_unit(0, 1, kind), 1.6, seen), (LogUnit("-1..1"), 0.0, "")]
        )
    if low < -1.05:
        end = next((value for value in (100.0, 500.0, 1000.0) if value >= size * 0.99), None)
        return [(span_unit(-end, end, kind, "%" if end == 100 else ""), 1.8, seen)] if end else []
    end = next((value for value in (100.0, 1000.0, 2047.0) if value >= size * 0.99), None)
    return [(span_unit(0, end, kind, "%" if end == 100 else ""), 1.7, seen)] if end else []
