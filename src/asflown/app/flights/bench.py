"""A flight on the bench: its even stretches, made once and shared by all that is measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from threading import RLock
from typing import TYPE_CHECKING

from asflown.core.flight import EvenPart, Flight, Span

if TYPE_CHECKING:
    from asflown.app.flights.known import Declared
    from asflown.core.aircraft import Aircraft
    from asflown.core.motors.mixer import MotorMixer
    from asflown.core.motors.thrust import ThrustCurve
    from asflown.core.segments import Segments
    from asflown.core.signal.timebase import Even

#: Families that more than one part takes.
FAMILIES = (
    *("rate_command", "rate", "control", "throttle", "accel", "pack_voltage", "pack_current"),
    *("stick", "motor", "rotor_speed"),
)
#: s, of the shortest stretch that most parts take.
_LEAST = 2.0


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
    _mixers: dict[object, MotorMixer] = field(default_factory=dict)
    _one_at_a_time: RLock = field(default_factory=RLock)

    def even(
        self,
        signals: Sequence[str],
        spans: tuple[Span, ...] | None = None,
        *,
        rate: float | None = None,
        least: float = _LEAST,
    ) -> Even:
        """Even stretches of those of the signals that were logged, at the rate logged or not under one."""
        from asflown.core.signal.timebase import even

        names = tuple(name for name in signals if name in self.flight.traces)
        key = (names, spans, rate, least)
        with self._one_at_a_time:  # lanes side by side want the same
            made = self._made.get(key)
            if made is None:
                whole = self._all_at_once(spans, least) if rate is None else None
                made = (
                    even(self.flight, names, rate=rate, spans=spans, least=least)
                    if whole is None or not set(names) <= self._shared
                    else _of(whole, names)
                )
                self._made[key] = made
        return made

    def mixer(self, part: EvenPart) -> MotorMixer:
        """Which motor turns which axis, as a stretch shows it."""
        from asflown.app.flights.mixer import FAMILIES, mixer_of

        names = tuple(name for name in part.values if name.partition(".")[0] in FAMILIES)
        key = (names, part.start, part.samples, part.rate)
        with self._one_at_a_time:
            if key not in self._mixers:
                self._mixers[key] = mixer_of(part)
            return self._mixers[key]

    def _all_at_once(self, spans: tuple[Span, ...] | None, least: float) -> Even | None:
        """Even stretches of all shared signals; ``None`` where ``least`` makes a difference."""
        from asflown.core.signal.timebase import even

        if not self._shared:
            return None
        key = ("all", spans)
        whole = self._made.get(key)
        if whole is None:
            names = [name for name in self.flight.traces if name in self._shared]
            whole = self._made[key] = even(self.flight, names, spans=spans, least=_LEAST)
        same = least == _LEAST or (least > _LEAST and all(p.span.length >= least for p in whole.parts))
        return whole if same and whole.parts else None

    @cached_property
    def _shared(self) -> frozenset[str]:
        """The signals that are laid out together: those of one table, without holes."""
        from asflown.core.signal.groups import groups_of

        names = self.names(*FAMILIES)
        groups, faults = groups_of(self.flight, names)
        is_one = len(groups) == 1 and groups[0].holes is None and not faults
        return frozenset(names) if is_one else frozenset()

    def longest(self, signals: Sequence[str], spans: tuple[Span, ...] | None = None) -> EvenPart | None:
        """The longest even stretch of the signals, ``None`` where there is none."""
        return max(self.even(signals, spans).parts, key=lambda part: part.samples, default=None)

    def why_none(self, signals: Sequence[str], *, least: float = _LEAST) -> str:
        """Why there is no even stretch of the signals in the air, and what to do."""
        if not self.flying:
            return "nothing was flown in this log; log a flight"
        why = "; ".join(self.even(signals, self.flying, least=least).statements)
        return (
            f"{why.rstrip('.') or 'no even stretch in the air'}; log {least:g} s or more of flight unbroken"
        )

    def names(self, *families: str) -> tuple[str, ...]:
        """Every logged signal of the families, in the order of the list of signals."""
        return tuple(name for name in self.flight.traces if name.partition(".")[0] in families)


def _of(whole: Even, names: tuple[str, ...]) -> Even:
    """Some of the signals."""
    parts = (replace(part, values={name: part.values[name] for name in names}) for part in whole.parts)
    return replace(whole, parts=tuple(parts), rates={name: whole.rates[name] for name in names})


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
