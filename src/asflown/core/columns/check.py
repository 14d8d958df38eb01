"""Whether a remembered layout still fits the data of a log."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from asflown.core.columns.assume import ROW_NUMBER
from asflown.core.columns.contradictions import contradictions
from asflown.core.columns.data_rates import say_against_attitude, say_named_pairs
from asflown.core.columns.data_time import say_time
from asflown.core.columns.data_units import say_units
from asflown.core.columns.kinds import Kind, kind_of
from asflown.core.columns.ledger import Ledger
from asflown.core.columns.propose import propose
from asflown.core.columns.sample import Sample, take_sample
from asflown.core.columns.spectra import together
from asflown.core.layout import Assignment, Doubt, Layout, Origin, fingerprint
from asflown.core.log_table import LogTable

#: How far beyond its span a command may run before it is doubted.
_BEYOND = 0.25
_SPANS = {Kind.SHARE: (0.0, 1.0), Kind.STICK: (-1.0, 1.0)}


def check(layout: Layout, table: LogTable) -> tuple[Doubt, ...]:
    """What speaks against reading a log through a layout; empty where nothing does."""
    places = {column.name: place for place, column in reversed(list(enumerate(table.columns)))}
    doubts = [
        Doubt(
            line.column, f"the layout reads '{line.column}' as {line.signal}; this log has no such column", ()
        )
        for line in layout.assignments
        if line.column not in places and line.column != ROW_NUMBER
    ]
    sample = take_sample(table)
    if sample is None:
        return tuple(doubts)
    lines = {places[line.column]: line for line in layout.assignments if line.column in places}
    ledger = Ledger()
    for place, line in lines.items():
        ledger.data(place, line.signal, 10.0)
    say_time(ledger, table.columns, sample)
    doubts += _no_time(ledger, lines)
    say_units(ledger, sample)
    held = {(place, line.signal.partition(".")[0]): line.unit for place, line in lines.items()}
    turned = _against(ledger, table, sample, layout, lines)
    doubts += contradictions(ledger, table.columns, held, 0.0, "the layout")
    doubts += [*_beyond(sample, lines), *turned]
    return tuple(doubts)


def _no_time(ledger: Ledger, lines: dict[int, Assignment]) -> Iterator[Doubt]:
    for place, line in lines.items():
        if line.signal == "time" and ledger.weights[place, "time"] < 10:
            yield Doubt(
                line.column,
                f"the layout reads '{line.column}' as the time, but it does not climb like one",
                (),
            )


def _beyond(sample: Sample, lines: dict[int, Assignment]) -> Iterator[Doubt]:
    for place, line in lines.items():
        at, span = sample.at(place), _SPANS.get(kind_of(line.signal))
        if at is None or span is None:
            continue
        ends = sorted((float(end) - line.offset) * line.factor for end in (sample.low[at], sample.high[at]))
        if ends[0] < span[0] - _BEYOND or ends[1] > span[1] + _BEYOND:
            yield Doubt(
                line.column,
                f"through the layout '{line.column}' runs from {ends[0]:.4g} to {ends[1]:.4g}; "
                f"{line.signal} runs from {span[0]:g} to {span[1]:g}: has its unit changed?",
                (line.unit, "another unit"),
            )


def _against(
    ledger: Ledger, table: LogTable, sample: Sample, layout: Layout, lines: dict[int, Assignment]
) -> tuple[Doubt, ...]:
    """Signs and roles: a rate goes with its command and after it, and is the derivative of its angle."""
    clock = layout.of("time")
    place = next((p for p, line in lines.items() if line.signal == "time"), None)
    at = sample.at(place) if place is not None else None
    if clock is None or (at is None and clock.column != ROW_NUMBER):
        return ()
    step = 1.0 if at is None else _usual_step(sample, at)
    tied = together(sample, step * clock.factor)
    if any(line.factor < 0 and kind_of(line.signal) in (Kind.RATE, Kind.ANGLE) for line in lines.values()):
        return ()
    before = len(ledger.doubts)
    say_against_attitude(ledger, table.columns, sample, tied)
    say_named_pairs(ledger, table.columns, sample, tied)
    return tuple(ledger.doubts[before:])


def _usual_step(sample: Sample, at: int) -> float:
    steps = sample.blocks[:, 1:, at] - sample.blocks[:, :-1, at]
    ahead = sorted(float(step) for step in steps.ravel()[:4000] if step > 0)
    return ahead[len(ahead) // 2] if ahead else 0.0


def merge(remembered: Layout, table: LogTable) -> Layout:
    """A remembered layout for this log: as remembered where its columns are there, the rest proposed.

    Doubts about the remembered lines (:func:`check`) are added; it counts as confirmed only without any and
    when the header is the same.
    """
    doubts = check(remembered, table)
    names = {column.name for column in table.columns}
    kept = tuple(
        replace(line, origin=Origin.REMEMBERED)
        for line in remembered.assignments
        if line.column in names or line.column == ROW_NUMBER
    )
    mark = fingerprint(table.header)
    if mark == remembered.fingerprint and len(kept) == len(remembered.assignments):
        return replace(
            remembered, assignments=kept, doubts=doubts, is_confirmed=remembered.is_confirmed and not doubts
        )
    fresh = propose(table)
    taken = {line.signal for line in kept} | {line.column for line in kept} | set(remembered.unused)
    added = tuple(x for x in fresh.assignments if x.signal not in taken and x.column not in taken)
    lines = kept + added
    used = {line.column for line in lines}
    open_still = tuple(doubt for doubt in fresh.doubts if doubt.subject not in used)
    return Layout(
        mark,
        lines,
        tuple(column.name for column in table.columns if column.name not in used),
        doubts + open_still,
        False,
        remembered.rate_filter,
    )
