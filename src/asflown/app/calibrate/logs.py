"""What a calibration takes from a log: motion at an even rate, or raw columns by their names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from asflown.core.calibrate.kept import Samples
from asflown.core.signals import AXES
from asflown.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from asflown.app.flights.open_log import Opened
    from asflown.core.flight import EvenPart, Flight
    from asflown.core.log_table import LogTable
    from asflown.formats.flightlog import LogSource

    Float = npt.NDArray[np.float64]

_ACCEL, _RATES = tuple(f"accel.{a}" for a in "xyz"), tuple(f"rate.{a}" for a in AXES)


@dataclass(frozen=True, eq=False)
class Motion:
    """Even stretches of a log.

    Attributes
    ----------
    parts
        Acceleration (3, n), rates (3, n) or ``None``, samples a second, start in s.
    """

    name: str
    sha256: str
    seconds: float
    parts: tuple[tuple[Float, Float | None, float, float], ...]

    def samples(self, used: str) -> Samples:
        """Where the samples came from."""
        return Samples(self.name, self.sha256, used)


def motion(opened: Opened) -> Motion:
    """Acceleration of a log, with its rates where they are logged.

    Raises
    ------
    InputError
        When acceleration is not logged, or nowhere unbroken.
    """
    flight = opened.flight()
    names = (*_ACCEL, *_RATES) if flight.has(*_RATES) else _ACCEL
    parts = _even(opened, flight, names, "specific force along x, y and z (accel.x, accel.y, accel.z)")
    made = tuple(
        (part.rows(_ACCEL), part.rows(_RATES) if len(names) > 3 else None, part.rate, part.start)
        for part in parts
    )
    return Motion(opened.name, opened.table.sha256, sum(part.span.length for part in parts), made)


def rates(opened: Opened) -> tuple[EvenPart, ...]:
    """Even stretches of the three rates.

    Raises
    ------
    InputError
        When they are not logged, or nowhere unbroken.
    """
    flight = opened.flight()
    names = (*_RATES, *(_ACCEL if flight.has(*_ACCEL) else ()))
    return _even(opened, flight, names, "all three rates (rate.roll, rate.pitch, rate.yaw)")


def _even(opened: Opened, flight: Flight, names: Sequence[str], what: str) -> tuple[EvenPart, ...]:
    from asflown.core.signal.timebase import even

    if not flight.has(*names):
        raise InputError(
            f"{what} are needed and not known in this log",
            where=opened.name,
            next_step="log them, or say which columns they are: --assume SIGNAL=COLUMN",
        )
    found = even(flight, names)
    if not found.parts:
        raise InputError(
            "; ".join(found.statements) or "no even stretch",
            where=opened.name,
            next_step="log 10 s or more without a gap",
        )
    return found.parts


def whole(opened: Opened, source: LogSource) -> Opened:
    """The log with all its columns: where the layout was known those that are no signals were not read."""
    from asflown.app.flights.open_log import KnownBy
    from asflown.formats.flightlog import read_log

    if opened.known_by is KnownBy.PROPOSED:
        return opened
    return replace(opened, table=read_log(source))


def columns_like(table: LogTable, words: frozenset[str]) -> list[str]:
    """Header names of the numeric columns whose name has one of these words."""
    from asflown.core.columns.words import split_name

    return [
        column.name
        for column in table.columns
        if column.numbers is not None and words & set(split_name(column.name, column.unit).words)
    ]


def raw(table: LogTable, names: Sequence[str], where: str) -> Float:
    """Columns by their header names, (k, n).

    Raises
    ------
    InputError
        When there is no such column, or one of words.
    """
    import numpy as np

    made = []
    for name in names:
        column = table.column(name)
        if column is None or column.numbers is None:
            known = ", ".join(one.name for one in table.columns if one.numbers is not None)
            raise InputError(
                f"no column of numbers is called {name!r}", where=where, next_step=f"there are: {known}"
            )
        made.append(np.asarray(column.numbers, dtype=np.float64))
    return np.array(made)


def unit_in(table: LogTable, name: str) -> str:
    """The unit a column's header or name states, as written; ``units`` where it states none."""
    from asflown.core.columns.words import split_name

    column = table.column(name)
    units = () if column is None else split_name(column.name, column.unit).units
    return units[0] if units else "units"
