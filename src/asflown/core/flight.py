"""A flight: signals in SI units on their own times, labels that hold, and the conditions it was flown in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]
    Numbers = npt.NDArray[np.floating]
    IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Trace:
    """One signal.

    Attributes
    ----------
    name
        Canonical name.
    time
        (n,) s, float64, not decreasing, read-only. Signals of one table share one array (the same object).
    values
        (n,) float32 or float64 in ``unit``, read-only; not a number where nothing was logged.
    column
        Header name of the column it came from.
    """

    name: str
    time: FloatArray
    values: Numbers
    unit: str
    column: str = ""


@dataclass(frozen=True, eq=False)
class Labels:
    """One label signal: what holds from each time on.

    Attributes
    ----------
    time
        (n,) s, the first entry and every change.
    words
        The n words.
    """

    name: str
    time: FloatArray
    words: tuple[str, ...]

    def at(self, moment: float) -> str | None:
        """The word that holds at a moment, ``None`` before the first."""
        held = None
        for start, word in zip(self.time, self.words, strict=True):
            if start > moment:
                break
            held = word
        return held


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time, s, from the start of the log; ``end`` excluded."""

    start: float
    end: float

    @property
    def length(self) -> float:
        """Seconds."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Conditions:
    """What confounds a comparison between two flights; ``None``: not stated.

    Attributes
    ----------
    wind_mps, air_temperature_k, air_pressure_pa
        Mean wind, m/s; K; Pa.
    rotor_poles
        Poles of the motors, where rotor speed was logged as electrical speed.
    """

    pack: str | None = None
    propellers: str | None = None
    wind_mps: float | None = None
    air_temperature_k: float | None = None
    air_pressure_pa: float | None = None
    altitude_m: float | None = None
    place: str | None = None
    pilot: str | None = None
    day: str | None = None

    @property
    def not_stated(self) -> tuple[str, ...]:
        """Names of what nobody stated, to be asked for."""
        return tuple(f.name for f in fields(self) if getattr(self, f.name) is None)


@dataclass(frozen=True, slots=True)
class TimeFault:
    """Something wrong with the time stamps: kind, how many rows, the first and what was done about it.

    Attributes
    ----------
    kind
        ``jitter``, ``repeated stamp``, ``backward stamp``, ``gap``, ``clock``, ``restart`` …
    at
        s, of the first one.
    """

    kind: str
    count: int
    at: float
    statement: str


@dataclass(frozen=True, eq=False)
class Flight:
    """One flight.

    Attributes
    ----------
    traces
        By canonical name.
    labels
        By canonical name (``mode``, ``armed``, ``failsafe``, ``event``).
    source
        SHA-256 of the log it came from.
    thinned
        Decimation already done while reading (with an anti-alias filter), 1 for none.
    rate_filter
        Declared filtering of the logged rates; ``None``: not stated.
    """

    traces: Mapping[str, Trace]
    labels: Mapping[str, Labels] = field(default_factory=dict)
    conditions: Conditions = Conditions()
    source: str = ""
    time_faults: tuple[TimeFault, ...] = ()
    thinned: int = 1
    rate_filter: str | None = None

    def has(self, *names: str) -> bool:
        """Whether every named signal is there."""
        return all(name in self.traces for name in names)

    def family(self, name: str) -> tuple[Trace, ...]:
        """The traces of a counted family in order: ``motor`` gives motor.1, motor.2 and so on."""
        return tuple(self._counted(name))

    def _counted(self, name: str) -> Iterator[Trace]:
        number = 1
        while (found := self.traces.get(f"{name}.{number}")) is not None:
            yield found
            number += 1


@dataclass(frozen=True, eq=False)
class EvenPart:
    """A stretch of evenly sampled signals, all on one time grid, nothing missing.

    What :mod:`asflown.core.signal.timebase` makes of a flight and every estimator takes.

    Attributes
    ----------
    start
        s from the start of the log.
    rate
        Samples a second.
    values
        (n,) float64 by canonical name, anti-aliased where decimated, read-only.
    filled
        How many single missing rows were filled by interpolation inside the stretch.
    """

    start: float
    rate: float
    values: Mapping[str, FloatArray]
    filled: int = 0

    @property
    def samples(self) -> int:
        """Samples of each signal."""
        return 0 if not self.values else int(next(iter(self.values.values())).shape[0])

    @property
    def span(self) -> Span:
        """The stretch of time it covers, s."""
        return Span(self.start, self.start + self.samples / self.rate)

    def rows(self, names: Sequence[str]) -> FloatArray:
        """(k, n) these signals, one or more: a view where they lie side by side in memory, else a copy."""
        import numpy as np

        columns = [self.values[name] for name in names]
        matrix = columns[0].base
        if matrix is None or matrix.ndim != 2 or matrix.shape[1:] != columns[0].shape:
            return np.stack(columns)
        places = [_place(column) for column in columns]
        step = matrix.strides[0]
        first, *others = places
        at, left = divmod(first - _place(matrix), step)
        together = all(place == first + (i + 1) * step for i, place in enumerate(others))
        if left or not together or any(column.base is not matrix for column in columns):
            return np.stack(columns)
        found: FloatArray = matrix[at : at + len(columns)]
        return found


def _place(values: FloatArray) -> int:
    """Where in memory it begins."""
    return int(values.__array_interface__["data"][0])
