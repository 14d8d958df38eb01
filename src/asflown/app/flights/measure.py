"""Measure a flight: everything the log is fit for, in one study; for the rest the reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from asflown.app.flights.bench import bench_of
from asflown.app.flights.conditions import StatedConditions, stated, with_measured
from asflown.app.flights.open_log import NOTHING_STATED, Opened
from asflown.app.flights.part import Part
from asflown.app.flights.settle import quoted, statement_of
from asflown.core.catalog import Consequence
from asflown.core.finding import Finding
from asflown.core.flight import Conditions, Flight, Span, TimeFault
from asflown.core.study.make import Study, collected
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.flights.bench import Bench
    from asflown.app.flights.known import Declared
    from asflown.core.aircraft import Aircraft
    from asflown.core.fitness import Use
    from asflown.core.segments import Segments
    from asflown.core.signal.stamps import TimeBase

#: What is measured, in the order shown; each is a function of the module of its name.
PARTS: tuple[str, ...] = ("response", "vibration", "limit_cycle", "motors", "power", "ground")
#: Which of them are done after each other: power takes the thrust curve that motors found. Lanes run side by
#: side, since the arithmetic inside them leaves Python's lock.
LANES: tuple[tuple[str, ...], ...] = (
    ("response", "ground"),
    ("vibration", "limit_cycle", "motors", "power"),
)


@dataclass(frozen=True, eq=False)
class Measurement:
    """A flight that was measured.

    Attributes
    ----------
    span
        The stretch of the log that was used, s.
    uses
        What the log can be used for, by family of figures.
    results
        What the computing packages returned, by part: figures are described from these.
    record, release
        Of the settings that flew, as far as it was said or taken.
    """

    opened: Opened
    flight: Flight
    timebase: TimeBase
    conditions: StatedConditions
    span: Span
    study: Study
    segments: Segments
    uses: tuple[Use, ...]
    results: Mapping[str, Any] = field(default_factory=dict)
    record: str | None = None
    release: str | None = None

    @property
    def faults(self) -> tuple[TimeFault, ...]:
        """Everything wrong with the time stamps."""
        return (*self.flight.time_faults, *self.timebase.statements)


def measure(
    opened: Opened,
    conditions: Conditions = NOTHING_STATED,
    *,
    start: float | None = None,
    end: float | None = None,
    baseline: Opened | None = None,
    aircraft: Aircraft | None = None,
    declared: Declared | None = None,
    progress: Callable[[str], None] | None = None,
) -> Measurement:
    """Measure a flight.

    Parameters
    ----------
    start, end
        Only this stretch of the log, s from its start.
    baseline
        The log of a healthy flight of the same aircraft, to tell oscillation against.
    aircraft
        What is known of the aircraft: mass, propellers, pack.
    declared
        Its controllers as release and record declare them.
    progress
        Told what is measured next.

    Raises
    ------
    InputError
        When the log holds no time.
    UsageError
        When the stretch asked for does not lie in the log.
    """
    from asflown.core.fitness import fitness
    from asflown.core.segments import segments
    from asflown.core.signal.stamps import examine

    known = stated(conditions, opened.table)
    flight = opened.flight(known.conditions)
    known = with_measured(known, flight)
    flight = replace(flight, conditions=known.conditions)
    span = stretch(flight, start, end)
    if start is not None or end is not None:
        from asflown.app.flights.stretch import cut

        flight = cut(flight, span)
    timebase = examine(flight.traces["time"].time)
    found = segments(flight)
    healthy = None if baseline is None else _healthy(baseline)
    bench = bench_of(flight, span, found, aircraft=aircraft, declared=declared, baseline=healthy)
    parts = _all(bench, progress)
    return Measurement(
        opened,
        flight,
        timebase,
        known,
        span,
        _study(opened, flight, parts),
        found,
        fitness(flight, found, timebase),
        _results(parts),
        None if declared is None else declared.record,
        None if declared is None else declared.release,
    )


def _healthy(opened: Opened) -> Bench:
    """The baseline flight on a bench of its own."""
    from asflown.core.segments import segments

    flight = opened.flight()
    return bench_of(flight, stretch(flight, None, None), segments(flight))


def _all(bench: Bench, progress: Callable[[str], None] | None) -> list[Part]:
    """Every part, in the order shown; the lanes side by side."""
    from concurrent.futures import ThreadPoolExecutor

    def walk(lane: tuple[str, ...]) -> list[Part]:
        return [_run(name, bench, progress) for name in lane]

    with ThreadPoolExecutor(len(LANES)) as pool:
        lanes = list(pool.map(walk, LANES))
    done = {
        name: part
        for lane, parts in zip(LANES, lanes, strict=True)
        for name, part in zip(lane, parts, strict=True)
    }
    return [done[name] for name in PARTS]


def _run(name: str, bench: Bench, progress: Callable[[str], None] | None) -> Part:
    """Measure one part; its module is imported when it is wanted."""
    from importlib import import_module

    if progress is not None:
        progress(name.replace("_", " "))
    part: Part = getattr(import_module(f"asflown.app.flights.{name}"), name)(bench)
    return part


def _study(opened: Opened, flight: Flight, parts: list[Part]) -> Study:
    return Study(
        flight.source,
        collected(one for part in parts for one in part.evidence),
        (*taken_findings(opened), *(finding for part in parts for finding in part.findings)),
        {part.name: part.statements for part in parts if part.statements},
    )


def _results(parts: list[Part]) -> dict[str, Any]:
    return {part.name: part.result for part in parts if part.result is not None}


def stretch(flight: Flight, start: float | None, end: float | None) -> Span:
    """The stretch asked for, within the log.

    Raises
    ------
    UsageError
        When it is empty.
    """
    time = flight.traces["time"].time
    first, last = float(time.min()), float(time.max())
    span = Span(first if start is None else max(first, start), last if end is None else min(last, end))
    if span.length <= 0 and (start is not None or end is not None):
        raise UsageError(
            f"the stretch from {span.start:g} to {span.end:g} s is empty;"
            f" the log runs from {first:g} to {last:g} s",
            next_step="give --from and --to within it",
        )
    return span


def taken_findings(opened: Opened) -> tuple[Finding, ...]:
    """What was taken to be so without a person's word."""
    return tuple(
        Finding(
            "layout",
            doubt.subject,
            Consequence.UNKNOWN,
            f"{doubt.question} Taken without a person's word: {(doubt.choices or ('as it is',))[0]}",
            tuple(
                f"--assume {quoted(said)}"
                for i in range(len(doubt.choices))
                if (said := statement_of(doubt, i, opened.table))
            ),
        )
        for doubt in opened.taken
    )
