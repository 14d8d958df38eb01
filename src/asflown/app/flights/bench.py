"""A flight on the bench: its even stretches, made once and shared by all that is measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asflown.core.flight import EvenPart, Flight, Span

if TYPE_CHECKING:
    from asflown.app.flights.known import Declared
    from asflown.core.aircraft import Aircraft
    from asflown.core.motors.thrust import ThrustCurve
    from asflown.core.segments import Segments
    from asflown.core.signal.timebase import Even


@dataclass(eq=False)
class Bench:
    """A flight and what was made of it on the way.

    Attributes
    ----------
    flying
        Stretches in the air, s.
    hovering
        Stretches of steady hover, s.
    standing
        Stretches on the ground with the motors off, s.
    aircraft
        What is known of the aircraft, ``None`` where nobody said which.
    declared
        The controllers as release and record declare them.
    baseline
        A healthy flight of the same aircraft, ``None`` where none was given.
    thrust
        The thrust curve, once the motors were measured.
    """

    flight: Flight
    span: Span
    flying: tuple[Span, ...]
    hovering: tuple[Span, ...] = ()
    standing: tuple[Span, ...] = ()
    aircraft: Aircraft | None = None
    declared: Declared | None = None
    baseline: Bench | None = None
    thrust: ThrustCurve | None = None
    _made: dict[object, Even] = field(default_factory=dict)

    def even(
        self,
        signals: Sequence[str],
        spans: tuple[Span, ...] | None = None,
        *,
        rate: float | None = None,
        least: float = 2.0,
    ) -> Even:
        """Even stretches of those of the signals that were logged, at the rate logged or not under one."""
        from asflown.core.signal.timebase import even

        names = tuple(name for name in signals if name in self.flight.traces)
        key = (names, spans, rate, least)
        made = self._made.get(key)
        if made is None:  # two lanes may make the same at once: the same comes out
            made = self._made[key] = even(self.flight, names, rate=rate, spans=spans, least=least)
        return made

    def longest(self, signals: Sequence[str], spans: tuple[Span, ...] | None = None) -> EvenPart | None:
        """The longest even stretch of the signals, ``None`` where there is none."""
        return max(self.even(signals, spans).parts, key=lambda part: part.samples, default=None)

    def names(self, *families: str) -> tuple[str, ...]:
        """Every logged signal of the families, in the order of the list of signals."""
        return tuple(name for name in self.flight.traces if name.partition(".")[0] in families)


def bench_of(
    flight: Flight,
    span: Span,
    found: Segments,
    *,
    aircraft: Aircraft | None = None,
    declared: Declared | None = None,
    baseline: Bench | None = None,
) -> Bench:
    """A flight laid on the bench by what was flown when."""
    from asflown.core.segments import Kind

    return Bench(
        flight,
        span,
        flying=found.airborne,
        hovering=tuple(segment.span for segment in found.of(Kind.HOVER)),
        standing=tuple(segment.span for segment in found.of(Kind.GROUND)),
        aircraft=aircraft,
        declared=declared,
        baseline=baseline,
    )
