"""From a flight as it was logged to even stretches of signals that every estimator takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import EvenPart, Flight, Span
from asflown.core.signal.decimate import LARGEST, REACH, decimate, outputs
from asflown.core.signal.groups import Group, groups_of
from asflown.core.signal.ranges import true_ranges
from asflown.core.signal.runs import Run, runs_of
from asflown.core.signal.stamps import TimeBase, examine

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray, Numbers

__all__ = ["Even", "TimeBase", "even", "even_parts", "examine"]

#: A rate this little under a whole multiple of the one asked for still counts as the multiple.
_NEARLY = 0.02


@dataclass(frozen=True, eq=False)
class Even:
    """Even stretches and what it took to get them.

    Attributes
    ----------
    parts
        In order of time.
    rate
        Of the parts, samples a second; 0.0 where there are none.
    rates
        At which rate each signal was logged, by name.
    lost
        s of the stretch asked for that no part covers: gaps, parts too short, ends of the filter.
    filled, resampled
        Missing rows filled by interpolation; samples that were interpolated because stamps strayed.
    statements
        What a person should know, one sentence each; says why where there are no parts.
    """

    parts: tuple[EvenPart, ...] = ()
    rate: float = 0.0
    rates: Mapping[str, float] = field(default_factory=dict)
    lost: float = 0.0
    filled: int = 0
    resampled: int = 0
    statements: tuple[str, ...] = ()


def even_parts(
    flight: Flight,
    signals: Sequence[str],
    *,
    rate: float | None = None,
    spans: Sequence[Span] | None = None,
    fill_up_to: float = 0.006,
    least: float = 2.0,
) -> tuple[EvenPart, ...]:
    """Even stretches of the signals, all on one grid; see :func:`even`, which also says what was lost."""
    return even(flight, signals, rate=rate, spans=spans, fill_up_to=fill_up_to, least=least).parts


def even(
    flight: Flight,
    signals: Sequence[str],
    *,
    rate: float | None = None,
    spans: Sequence[Span] | None = None,
    fill_up_to: float = 0.006,
    least: float = 2.0,
) -> Even:
    """Lay signals of a flight on one even grid.

    The grid is that of the fastest of the signals. Slower ones are interpolated onto it: band-limited, or
    along straight lines for what changes slowly (voltage, height, temperature …). Where stamps stray by less
    than 2 % of a step rows are taken as even; else they are interpolated by cubics on their stamps.

    Parameters
    ----------
    signals
        Canonical names.
    rate
        Samples a second wanted. Rows are reduced by the largest whole number that does not go below it
        (:mod:`asflown.core.signal.decimate`: flat and clean up to 0.8 of the new Nyquist frequency); the rate
        reached stands in each part. ``None``: as logged.
    spans
        Only inside these stretches.
    fill_up_to
        s. Missing rows that cover more than this split a part; fewer, and single ones, are filled by a cubic.
    least
        s. Shorter parts are left out and counted as lost.

    Returns
    -------
    Even
        Without parts, and with the reason, where a signal is missing or has no values.
    """
    groups, faults = groups_of(flight, signals)
    if faults or not groups:
        return Even(statements=tuple(faults) or ("no signal was asked for",))
    lead, others = groups[0], groups[1:]
    rates = {trace.name: group.base.rate for group in groups for trace in group.traces}
    if lead.base.rate <= 0:
        return Even(rates=rates, statements=tuple(fault.statement for fault in lead.base.statements))
    factor = factor_for(lead.base.rate, rate)
    runs = runs_of(lead.time, lead.base, holes=lead.holes, spans=spans, fill_up_to=fill_up_to, least=least)
    parts: list[EvenPart] = []
    for run in runs:
        parts.extend(_parts(run, lead, others, factor, least))
    return _summed(parts, runs, lead, factor, rates, spans)


def factor_for(rate: float, wanted: float | None) -> int:
    """The largest whole number by which a rate can be reduced without going below the one wanted."""
    if wanted is None or wanted <= 0:
        return 1
    return min(LARGEST, max(1, int(rate / wanted + _NEARLY)))


def _parts(run: Run, lead: Group, others: Sequence[Group], factor: int, least: float) -> list[EvenPart]:
    """The parts of one run: one, or several where a slower signal has gaps of its own."""
    step = lead.base.step
    cut = [(0, run.samples)]
    beside: dict[str, FloatArray] = {}
    if others:
        grid: FloatArray = run.start + np.arange(run.samples, dtype=np.float64) * step
        covered = np.ones(run.samples, dtype=bool)
        for group in others:
            covered &= group.covers(grid)
            beside |= group.at(grid)
        starts, ends = true_ranges(covered)
        cut = list(zip(starts.tolist(), ends.tolist(), strict=True))
    rate = lead.base.rate / factor
    long_enough = [(a, b) for a, b in cut if outputs(b - a, factor) >= least * rate - 2 * REACH - 1]
    laid = {trace.name: run.lay(trace.values) for trace in lead.traces} | beside if long_enough else {}
    made = []
    for a, b in long_enough:
        values = _side_by_side({name: column[a:b] for name, column in laid.items()}, b - a, factor)
        if not values or next(iter(values.values())).size == 0:
            continue
        start = run.start + (a + (REACH * factor if factor > 1 else 0)) * step
        made.append(EvenPart(start, rate, values, run.filled if len(long_enough) == 1 else 0))
    return made


def _side_by_side(columns: Mapping[str, Numbers], samples: int, factor: int) -> dict[str, FloatArray]:
    """The columns at the new rate, as the rows of one matrix: what is wanted together need not be copied."""
    matrix = np.empty((len(columns), outputs(samples, factor)))
    for row, column in zip(matrix, columns.values(), strict=True):
        row[:] = column if factor == 1 else decimate(column, factor)
    matrix.setflags(write=False)
    return dict(zip(columns, matrix, strict=True))


def _summed(
    parts: list[EvenPart],
    runs: Sequence[Run],
    lead: Group,
    factor: int,
    rates: Mapping[str, float],
    spans: Sequence[Span] | None,
) -> Even:
    base = lead.base
    asked = _seconds(base, spans)
    kept = sum(part.span.length for part in parts)
    lost = max(0.0, asked - kept)
    filled = sum(run.filled for run in runs)
    resampled = sum(run.samples for run in runs if run.is_resampled)
    told = []
    if not parts:
        told.append(f"no stretch of {asked:.3g} s is long enough without a gap")
    elif lost > 0.01 * asked + 1.0:
        told.append(f"{lost:.3g} s of {asked:.4g} s are lost to gaps, short parts and filter ends")
    if filled:
        told.append(f"{filled:,} missing rows filled by cubics through their neighbours")
    if resampled:
        told.append(
            f"{resampled:,} samples interpolated at even times: stamps stray by {base.jitter * 1e3:.3g} ms"
        )
    slower = {name: own for name, own in rates.items() if own < 0.99 * base.rate}
    if slower:
        words = ", ".join(f"{name} {own:.4g}" for name, own in slower.items())
        told.append(f"logged slower than the others ({base.rate:.5g} a second) and interpolated: {words}")
    return Even(tuple(parts), base.rate / factor, rates, lost, filled, resampled, tuple(told))


def _seconds(base: TimeBase, spans: Sequence[Span] | None) -> float:
    """Seconds of the log, or of the spans as far as they lie in it."""
    if spans is None:
        return base.rows * base.step + base.dropped * base.step
    return sum(max(0.0, min(span.end, base.end) - max(span.start, base.start)) for span in spans)
