"""Read the controllers out of a log: of a flight, or of an aircraft rocked by hand, propellers off."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asflown.app.flights.arrays import stacked
from asflown.core.signals import AXES

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from asflown.app.flights.open_log import Opened
    from asflown.core.behaviour.from_log.bench import Told
    from asflown.core.behaviour.from_log.read import ReadController
    from asflown.core.flight import EvenPart, Flight, Span

    Float = npt.NDArray[np.float64]

#: Rows a second below which a controller is not read.
LEAST_RATE = 190.0
#: s, of the shortest even stretch.
_LEAST = 6.0
#: Axes read side by side.
_AT_ONCE = 2
_FAMILIES = ("rate_command", "rate", "control", "motor", "accel")
_NO_RATE = "the measured {axis} rate is not known in this log; log it"
_NO_OUTPUT = (
    "neither the controller's {axis} output nor the motors' commands are known in this log; log one of them"
)
_TOO_SLOW = "logged at {rate:.4g} rows a second: too slow for a controller; log at 500 Hz or more"
_NO_STRETCH = "no even stretch of {least:g} s in this log; log without gaps"
_NOT_FLOWN = "nothing was flown in this log"
_ALL_AXES = "all three rates are needed to tell which motor answers which axis; log them"
OUTPUT, MOTORS = "the logged output", "the motors' commands"


@dataclass(frozen=True, eq=False)
class ReadLog:
    """What was read from a log.

    Attributes
    ----------
    told
        Whether it is a flight or an aircraft rocked by hand.
    drive
        What the controllers' output was read from.
    axes, reasons
        An axis is in one of them.
    sizes
        By axis: sum of the absolute entries by which motor commands come to this output; an axis is not in it
        where that is not known.
    loop_rate
        Hz, as stated.
    """

    name: str
    told: Told
    drive: str
    rate: float
    axes: Mapping[str, ReadController]
    reasons: Mapping[str, str]
    sizes: Mapping[str, float] = field(default_factory=dict)
    loop_rate: float | None = None

    @property
    def fits(self) -> bool:
        """Whether the family fits every axis that was read, and there is one."""
        return bool(self.axes) and all(one.check.holds for one in self.axes.values())


def read_log(
    opened: Opened, *, start: float | None = None, end: float | None = None, loop_rate: float | None = None
) -> ReadLog:
    """Read every axis' controller that a log shows.

    Parameters
    ----------
    start, end
        Only this stretch of the log, s.
    loop_rate
        Hz at which the controller runs, where somebody knows it.

    Raises
    ------
    InputError
        When the log holds no time.
    UsageError
        When the stretch asked for does not lie in the log.
    """
    flight = opened.flight()
    if start is not None or end is not None:
        from asflown.app.flights.measure import stretch
        from asflown.app.flights.stretch import cut

        flight = cut(flight, stretch(flight, start, end))
    told = _told(flight)
    parts, why = _parts(flight, told)
    if not parts:
        return _nothing(opened.name, told, why)
    return _read(opened.name, told, parts, loop_rate)


def _nothing(name: str, told: Told, why: str) -> ReadLog:
    return ReadLog(name, told, OUTPUT, 0.0, {}, dict.fromkeys(AXES, why))


def _names(flight: Flight) -> tuple[str, ...]:
    return tuple(name for name in flight.traces if name.partition(".")[0] in _FAMILIES)


def _told(flight: Flight) -> Told:
    """A flight, or an aircraft in a hand: from the log's liveliest even stretch."""
    import numpy as np

    from asflown.core.behaviour.from_log.bench import LogKind, Told, kind_of
    from asflown.core.signal.timebase import even

    made = even(flight, _names(flight), least=_LEAST)
    part = max(made.parts, key=lambda one: one.samples, default=None)
    if part is None:
        return Told(LogKind.UNKNOWN, "the log has no even stretch")
    moves = any(
        float(np.ptp(values)) > 0
        for name, values in part.values.items()
        if name.partition(".")[0] in ("control", "motor")
    )
    return kind_of(
        stacked(part, "rate", AXES),
        stacked(part, "accel", "xyz"),
        part.rate,
        armed=_armed(flight),
        output_moves=moves,
    )


def _armed(flight: Flight) -> bool | None:
    """Whether the log says armed anywhere; ``None`` where it does not say."""
    from asflown.core.segments.airborne import OFF_WORDS

    labels = flight.labels.get("armed")
    if labels is None or not labels.words:
        return None
    return any(word.strip().lower() not in OFF_WORDS for word in labels.words)


def _parts(flight: Flight, told: Told) -> tuple[tuple[EvenPart, ...], str]:
    """Even stretches: in the air of a flight, all of it otherwise; and why there are none."""
    from asflown.core.behaviour.from_log.bench import LogKind
    from asflown.core.segments import segments
    from asflown.core.signal.timebase import even

    spans: tuple[Span, ...] | None = None
    if told.kind is LogKind.FLIGHT:
        spans = segments(flight).airborne
        if not spans:
            return (), _NOT_FLOWN
    names = tuple(name for name in _names(flight) if not name.startswith("accel"))
    made = even(flight, names, spans=spans, least=_LEAST)
    if made.parts and made.rate < LEAST_RATE:
        return (), _TOO_SLOW.format(rate=made.rate)
    return made.parts, "; ".join(made.statements) or _NO_STRETCH.format(least=_LEAST)


def _read(name: str, told: Told, parts: tuple[EvenPart, ...], loop_rate: float | None) -> ReadLog:
    from asflown.core.behaviour.from_log.read import read_controller
    from asflown.core.behaviour.from_log.rows import rows_of

    first = parts[0].values
    logged = [axis for axis in AXES if f"control.{axis}" in first]
    pattern, sizes, why = None, dict[str, float](), ""
    if logged:
        sizes = _sizes(parts)
    elif "motor.1" in first:
        pattern, why = _pattern(parts, told)
        sizes = {} if pattern is None or pattern.shape[1] != 4 else dict.fromkeys(AXES, 1.0)

    def one(axis: str) -> ReadController | str:
        if f"rate.{axis}" not in first:
            return _NO_RATE.format(axis=axis)
        if axis not in logged and pattern is None:
            return why or _NO_OUTPUT.format(axis=axis)
        return read_controller(
            axis, rows_of(parts, axis, None if axis in logged else pattern), loop_rate=loop_rate
        )

    with ThreadPoolExecutor(_AT_ONCE) as pool:  # most of it leaves Python's lock
        found = dict(zip(AXES, pool.map(one, AXES), strict=True))
    read = {axis: made for axis, made in found.items() if not isinstance(made, str)}
    reasons = {axis: made for axis, made in found.items() if isinstance(made, str)}
    drive = OUTPUT if logged else MOTORS
    return ReadLog(name, told, drive, parts[0].rate, read, reasons, sizes, loop_rate)


def _pattern(parts: tuple[EvenPart, ...], told: Told) -> tuple[Float | None, str]:
    """Which motor answers which axis: from what they turned in flight, else from what moved them."""
    from asflown.app.flights.mixer import mixer_of
    from asflown.core.behaviour.from_log.bench import LogKind, pattern_of

    longest = max(parts, key=lambda one: one.samples)
    if told.kind is LogKind.FLIGHT:
        mixer = mixer_of(longest)
        return mixer.matrix, mixer.reason or ""
    motors, rates = stacked(longest, "motor"), stacked(longest, "rate", AXES)
    if motors is None or rates is None:
        return None, _ALL_AXES
    return pattern_of(motors, rates, stacked(longest, "rate_command", AXES), longest.rate)


def _sizes(parts: tuple[EvenPart, ...]) -> dict[str, float]:
    """Of the rows by which motor commands come to the logged output, where both were logged."""
    import numpy as np

    from asflown.core.motors.mixer_by_control import from_control

    longest = max(parts, key=lambda one: one.samples)
    motors, control = stacked(longest, "motor"), stacked(longest, "control", AXES)
    if motors is None or control is None or motors.shape[0] < 4:
        return {}
    matrix = from_control(motors, control).matrix
    if matrix is None:
        return {}
    return dict(zip(AXES, np.sum(np.abs(matrix), axis=1).tolist(), strict=True))
