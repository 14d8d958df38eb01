"""Rules by which a log is found fit for a family of figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.fitness.uses import Family, Grade, Use
from asflown.core.segments.kinds import Kind, Segments
from asflown.core.signal.aliasing import ORDERS, AliasRisk, rotor_alias_risk
from asflown.core.signal.stamps import TimeBase
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.core.flight import Flight

#: Rows a second for margins (methods of this project: 250 Hz from 4 kHz without anti-alias gave 5 deg rms).
MARGINS_RATE = 490.0
#: Rows a second below which a response up to its bandwidth cannot be told, and for parts of it.
RESPONSE_RATE, RESPONSE_PARTLY = 240.0, 95.0
#: Seconds of manoeuvres on an axis for narrow intervals, and for any.
FLOWN, FLOWN_LEAST = 20.0, 5.0
#: Orders of the rotor lines strong enough to spoil figures of the loop when they fold back.
STRONG_ORDERS = (1, 2)
#: Missing rows above which filled gaps disturb figures, and above which they spoil them.
DROPPED_PARTLY, DROPPED_NOT = 0.01, 0.08


@dataclass
class _Notes:
    """Reasons gathered for one family; the worst grade counts."""

    grade: Grade = Grade.USABLE
    reasons: list[str] = field(default_factory=list)
    next_time: list[str] = field(default_factory=list)

    def partly(self, reason: str, then: str = "") -> None:
        if self.grade is Grade.USABLE:
            self.grade = Grade.PARTLY
        self._note(reason, then)

    def never(self, reason: str, then: str = "") -> None:
        self.grade = Grade.NOT
        self._note(reason, then)

    def _note(self, reason: str, then: str) -> None:
        self.reasons.append(reason)
        if then and then not in self.next_time:
            self.next_time.append(then)


@dataclass(frozen=True)
class _Case:
    flight: Flight
    segments: Segments
    timebase: TimeBase
    alias: AliasRisk
    loop_alias: AliasRisk

    def has_values(self, name: str) -> bool:
        """Logged, with values, and not constant."""
        trace = self.flight.traces.get(name)
        if trace is None:
            return False
        known = trace.values[:: max(1, trace.values.size // 20_000)]
        known = known[np.isfinite(known)]
        return known.size >= 4 and float(np.ptp(known)) > 0

    def wrong(self, name: str) -> str:
        """What is wrong with a signal that has no usable values."""
        trace = self.flight.traces.get(name)
        if trace is None:
            return f"{name} not logged"
        if not np.isfinite(trace.values).any():
            return f"{name} has no values"
        return f"{name} never changes"

    @property
    def motors(self) -> int:
        return sum(self.has_values(trace.name) for trace in self.flight.family("motor"))


def fitness(flight: Flight, segments: Segments, timebase: TimeBase) -> tuple[Use, ...]:
    """Judge a log for every family of figures.

    Parameters
    ----------
    timebase
        Of the measured rates.
    """
    speeds = _speeds(flight)
    is_filtered = flight.thinned > 1 or _is_low_passed(flight.rate_filter)
    alias, loop_alias = (
        rotor_alias_risk(timebase.rate or 1.0, speeds, orders=orders, is_filtered=is_filtered)
        for orders in (ORDERS, STRONG_ORDERS)
    )
    case = _Case(flight, segments, timebase, alias, loop_alias)
    rules: dict[Family, Callable[[_Case, _Notes], None]] = {
        Family.RESPONSE: _response,
        Family.MARGINS: _margins,
        Family.STEP: _step,
        Family.VIBRATION: _vibration,
        Family.LIMIT_CYCLE: _limit_cycle,
        Family.MOTORS: _motors,
        Family.POWER: _power,
        Family.GROUND: _ground,
    }
    uses = []
    for family, rule in rules.items():
        notes = _Notes()
        if timebase.rate <= 0:
            notes.never("no rate can be told from the time stamps", "log a time for every row")
        else:
            rule(case, notes)
        uses.append(Use(family, notes.grade, tuple(notes.reasons), tuple(notes.next_time)))
    return tuple(uses)


def _is_low_passed(stated: str | None) -> bool:
    return stated is not None and "low-pass" in stated.lower()


def _speeds(flight: Flight) -> tuple[float, float] | None:
    lows, highs = [], []
    for trace in flight.family("rotor_speed"):
        known = trace.values[:: max(1, trace.values.size // 20_000)]
        turning = known[np.isfinite(known) & (known > 5.0)]
        if turning.size >= 100:
            lows.append(float(np.quantile(turning, 0.05)))
            highs.append(float(np.quantile(turning, 0.98)))
    return (min(lows), max(highs)) if lows else None


def _time(case: _Case, notes: _Notes) -> None:
    share = case.timebase.dropped_share
    if share > DROPPED_NOT:
        notes.never(f"{share:.1%} of the rows are missing", "use a faster card or log fewer columns")
    elif share > DROPPED_PARTLY:
        notes.partly(
            f"{share:.1%} of the rows are missing and were filled", "use a faster card or log fewer columns"
        )
    unusable = case.timebase.backward + case.timebase.repeated + case.timebase.stray
    if unusable > 0.2 * case.timebase.rows:
        notes.never(
            f"{unusable / case.timebase.rows:.0%} of the time stamps repeat, go back or jump ahead",
            "log the time of one clock that only goes forward, finely enough that no two rows share a stamp",
        )
    if case.timebase.jitter > 0.3 * case.timebase.step:
        notes.partly(
            f"stamps stray by {case.timebase.jitter * case.timebase.rate:.0%} of a step",
            "stamp each row when it is sampled, not when it is written",
        )


def _flown(case: _Case, notes: _Notes, axes: Sequence[str]) -> None:
    if not case.segments.airborne:
        notes.never("no flight in the log", "log from before take-off to after landing")
        return
    times = {axis: case.segments.seconds(Kind.MANOEUVRE, axis) for axis in axes}
    none = [axis for axis, seconds in times.items() if seconds < FLOWN_LEAST]
    short = [axis for axis, seconds in times.items() if FLOWN_LEAST <= seconds < FLOWN]
    words = {axis: f"{axis} {int(times[axis])} s of about {FLOWN:.0f} s" for axis in axes}
    if axes and len(none) == len(axes):
        notes.never(f"too few manoeuvres: {_listed(words, none)}", f"fly doublets on {' and '.join(none)}")
    elif none:
        notes.partly(f"too few manoeuvres: {_listed(words, none)}", f"fly doublets on {' and '.join(none)}")
    if short:
        notes.partly(f"wide intervals: {_listed(words, short)}", f"fly longer on {' and '.join(short)}")
    hard = [axis for axis in axes if case.segments.saturated_share.get(axis, 0.0) > 0.1]
    if hard:
        notes.partly(
            f"motors saturated in more than 10 % of the manoeuvres on {' and '.join(hard)}",
            f"fly smaller stick movements on {' and '.join(hard)}",
        )


def _listed(words: dict[str, str], axes: Sequence[str]) -> str:
    return ", ".join(words[axis] for axis in axes)


def _axes(case: _Case, notes: _Notes, families: Sequence[str]) -> list[str]:
    """Axes on which every family has values; notes the others."""
    good = []
    for axis in AXES:
        gone = [name for name in (f"{family}.{axis}" for family in families) if not case.has_values(name)]
        if not gone:
            good.append(axis)
            continue
        reason = " and ".join(case.wrong(name) for name in gone)
        notes.partly(f"{axis}: {reason}", f"log {' and '.join(gone)}")
    if not good:
        notes.grade = Grade.NOT
    return good


def _response(case: _Case, notes: _Notes) -> None:
    axes = _axes(case, notes, ("rate_command", "rate"))
    if not axes:
        return
    rate = case.timebase.rate
    if rate < RESPONSE_PARTLY:
        notes.never(f"{rate:.4g} rows a second", "log at 500 Hz or more")
        return
    if rate < RESPONSE_RATE:
        notes.partly(f"{rate:.4g} rows a second: usable to about {rate / 8:.0f} Hz", "log at 500 Hz or more")
    if case.loop_alias.is_risk:
        notes.partly(case.loop_alias.statement)
    _time(case, notes)
    _flown(case, notes, axes)


def _margins(case: _Case, notes: _Notes) -> None:
    axes = _axes(case, notes, ("rate_command", "rate"))
    if not axes:
        return
    if case.timebase.rate < MARGINS_RATE:
        notes.never(f"{case.timebase.rate:.4g} rows a second", "log at 500 Hz or more for margins")
    if case.motors < 3:
        said = (
            "no motor commands logged" if not case.flight.family("motor") else "motor commands without values"
        )
        if all(case.has_values(f"control.{axis}") for axis in axes):
            notes.partly(
                f"{said}: controller output taken, which errs where motors saturate", "log every motor"
            )
        else:
            notes.never(f"{said}, nor the controller's output", "log the command to every motor")
    if not case.has_values("pack_voltage"):
        notes.partly("pack voltage not logged: thrust is taken as constant", "log the pack voltage")
    if case.loop_alias.is_risk:
        notes.partly(case.loop_alias.statement)
    _time(case, notes)
    _flown(case, notes, axes)


def _step(case: _Case, notes: _Notes) -> None:
    _response(case, notes)


def _vibration(case: _Case, notes: _Notes) -> None:
    rates = [name for name in (f"rate.{axis}" for axis in AXES) if case.has_values(name)]
    accels = [name for name in ("accel.x", "accel.y", "accel.z") if case.has_values(name)]
    if not rates and not accels:
        notes.never("neither rates nor accelerations logged", "log rates and accelerations, unfiltered")
        return
    if not accels:
        notes.partly("accelerations not logged: rates alone", "log accelerations")
    if case.timebase.rate < 390.0:
        notes.never(
            f"{case.timebase.rate:.4g} rows a second: rotor lines lie above {case.timebase.rate / 2:.4g} Hz",
            "log at 1000 Hz or more",
        )
    elif case.alias.folded:
        notes.partly(case.alias.statement, f"log at {2.5 * max(f.high for f in case.alias.folded):.0f} Hz")
    if not case.flight.family("rotor_speed"):
        notes.partly("rotor speed not logged: lines are found blind", "log rotor speed")
    if _is_low_passed(case.flight.rate_filter):
        notes.partly(f"the logged rates were filtered ({case.flight.rate_filter})", "log unfiltered rates")
    _in_air(case, notes, 10.0)


def _limit_cycle(case: _Case, notes: _Notes) -> None:
    axes = [axis for axis in AXES if case.has_values(f"rate.{axis}")]
    if not axes:
        notes.never("no rates logged", "log the measured rates")
        return
    if len(axes) < 3:
        notes.partly(f"only {' and '.join(axes)} logged", "log all three rates")
    if case.timebase.rate < RESPONSE_RATE:
        notes.never(f"{case.timebase.rate:.4g} rows a second", "log at 500 Hz or more")
    if case.loop_alias.is_risk:
        notes.partly(case.loop_alias.statement)
    _in_air(case, notes, 10.0)


def _motors(case: _Case, notes: _Notes) -> None:
    if case.motors < 3:
        listed = case.flight.family("motor")
        said = "; ".join(case.wrong(t.name) for t in listed if not case.has_values(t.name))
        notes.never(said or "no motor columns", "log the command to every motor")
        return
    hover = case.segments.seconds(Kind.HOVER)
    if hover < 5.0:
        notes.partly(f"hover {hover:.0f} s of about 10 s: balance is not told", "hover hands-off for 10 s")
    if not case.flight.family("rotor_speed"):
        notes.partly("rotor speed not logged: loss of step is not told", "log rotor speed")
    _in_air(case, notes, 5.0)


def _power(case: _Case, notes: _Notes) -> None:
    if not case.has_values("pack_voltage"):
        notes.never(case.wrong("pack_voltage"), "log the pack voltage")
        return
    if not case.has_values("pack_current"):
        notes.partly(f"{case.wrong('pack_current')}: no resistance, no used charge", "log the pack current")
    if case.flight.conditions.air_pressure_pa is None and not case.has_values("air_pressure"):
        notes.partly("air pressure not stated: hover power is not corrected", "state or log pressure")
    _in_air(case, notes, 20.0)


def _ground(case: _Case, notes: _Notes) -> None:
    if not any(case.has_values(f"rate.{axis}") for axis in AXES):
        notes.never("no rates logged", "log the measured rates")
        return
    seconds = max((s.span.length for s in case.segments.of(Kind.GROUND)), default=0.0)
    if seconds < 5.0:
        notes.never(f"on the ground {seconds:.0f} s of about 30 s", "log 30 s at rest before take-off")
    elif seconds < 30.0:
        notes.partly(f"on the ground {seconds:.0f} s of about 30 s", "log 30 s at rest before take-off")
    if 5.0 <= seconds < 600.0:
        notes.partly(f"{seconds:.0f} s at rest: too short for an Allan deviation beyond {seconds / 9:.0f} s")


def _in_air(case: _Case, notes: _Notes, least: float) -> None:
    seconds = case.segments.airborne_seconds
    if seconds <= 0:
        notes.never("no flight in the log", "log from before take-off to after landing")
    elif seconds < least:
        notes.partly(f"in the air {seconds:.0f} s of about {least:.0f} s", "fly longer")
