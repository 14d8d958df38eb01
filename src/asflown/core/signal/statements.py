"""What is wrong with time stamps, in sentences with their numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.core.flight import TimeFault

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asflown.core.signal.stamps import TimeBase

#: Rates that loggers are set to, rows a second. Common practice, no source.
ROUND_RATES = (
    *(25.0, 50.0, 62.5, 100.0, 120.0, 125.0, 150.0, 200.0, 250.0, 1000 / 3, 400.0, 500.0, 1600 / 3, 2000 / 3),
    *(800.0, 1000.0, 3200 / 3, 4000 / 3, 1600.0, 2000.0, 8000 / 3, 3200.0, 4000.0, 6400.0, 8000.0),
)
#: A rate this far from a round one, as a share, is told; farther off the round one was hardly meant.
SUSPECT_FROM, SUSPECT_TO = 1e-3, 0.025


def statements_of(base: TimeBase, first: Mapping[str, float]) -> TimeBase:
    """The same time base with its faults in words; ``first`` says when each kind came first."""
    suspicion = clock_suspicion(base.rate)
    told = [*_rows(base, first), *_sessions(base), *_missing(base), *_evenness(base)]
    if suspicion is not None:
        told.append(TimeFault("clock", base.rows, base.start, suspicion))
    return replace(base, statements=tuple(told), clock=suspicion)


def clock_suspicion(rate: float) -> str | None:
    """One sentence where a rate lies close to a round one and yet not on it."""
    if rate <= 0:
        return None
    near = min(ROUND_RATES, key=lambda known: abs(rate / known - 1))
    off = rate / near - 1
    if not SUSPECT_FROM <= abs(off) <= SUSPECT_TO:
        return None
    return (
        f"rows come at {rate:.6g} a second, {abs(off):.2%} {'above' if off > 0 else 'below'} {near:.6g}: if "
        f"{near:.6g} was meant, the clock is off by that much and so is every frequency and time constant"
    )


def _rows(base: TimeBase, first: Mapping[str, float]) -> list[TimeFault]:
    words = {
        "repeated": (base.repeated, "repeat the stamp before them; the first row of each is used"),
        "backward": (base.backward, "carry a stamp earlier than one before them; they are left out"),
        "stray": (base.stray, "carry a stamp far ahead of their neighbours; they are left out"),
        "not a number": (base.not_finite, "carry no readable stamp; they are left out"),
    }
    return [
        TimeFault(
            f"{kind} stamp",
            count,
            first.get(kind, base.start),
            f"{_count(count, 'row')} of {base.rows:,} {says}",
        )
        for kind, (count, says) in words.items()
        if count
    ]


def _sessions(base: TimeBase) -> list[TimeFault]:
    if base.restarts == 0:
        return []
    pieces = ", ".join(f"{b - a:,}" for a, b in base.sessions[:6])
    return [
        TimeFault(
            "restart",
            base.restarts,
            base.start,
            f"the time begins anew {_count(base.restarts, 'time')}: {len(base.sessions)} sessions in one "
            f"file ({pieces} rows); each is worked on by itself",
        )
    ]


def _missing(base: TimeBase) -> list[TimeFault]:
    if base.dropped == 0:
        return []
    longest = max((gap.length for gap in base.gaps), default=0.0)
    return [
        TimeFault(
            "gap",
            base.gap_count,
            base.gaps[0].start if base.gaps else base.start,
            f"{_count(base.dropped, 'row')} missing ({base.dropped_share:.2%}) at "
            f"{_count(base.gap_count, 'place')}, the longest {longest * 1e3:.3g} ms",
        )
    ]


def _evenness(base: TimeBase) -> list[TimeFault]:
    told = []
    if base.rounded_to:
        told.append(
            TimeFault(
                "rounded stamp",
                base.rows,
                base.start,
                f"stamps are rounded to {base.rounded_to * 1e3:.3g} ms while rows come evenly every "
                f"{base.step * 1e3:.4g} ms; the times are taken from the count of rows",
            )
        )
    if base.jitter > 0.02 * base.step:
        told.append(
            TimeFault(
                "jitter",
                base.rows,
                base.start,
                f"stamps stray by {base.jitter * 1e3:.3g} ms (one standard deviation), "
                f"{base.jitter * base.rate:.0%} of a step; signals are resampled by their stamps",
            )
        )
    return told


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"
