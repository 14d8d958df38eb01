"""A table read through a layout: a flight in SI units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asflown.core.columns.assume import ROW_NUMBER
from asflown.core.columns.changes import label_changes
from asflown.core.columns.clock import seconds
from asflown.core.flight import Conditions, Flight, Labels, TimeFault, Trace
from asflown.core.layout import Assignment, Layout
from asflown.core.log_table import Column, LogTable
from asflown.core.signals import SignalKind, signal
from asflown.errors import Fault, InputError

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray, Numbers

    Kept = npt.NDArray[np.bool_] | None


_NOT_STATED = Conditions()


def apply_layout(table: LogTable, layout: Layout, conditions: Conditions = _NOT_STATED) -> Flight:
    """Read a table through a layout.

    Time starts at the first row. Rows without a readable time are left out and told in ``time_faults``;
    stamps that repeat, go back or leave gaps stay; :mod:`asflown.core.signal.stamps` looks at those.

    Returns
    -------
    Flight
        Traces in SI units on one shared time array; words as labels that change.

    Raises
    ------
    InputError
        When the layout names no time or columns the table does not have.
    """
    faults = _missing(table, layout)
    if faults:
        raise InputError(
            "the layout does not fit this log", faults=faults, next_step="propose a layout for this log"
        )
    clock = layout.of("time")
    if clock is None:
        raise InputError(
            "no column is known to be the time",
            next_step="state it: time=COLUMN, or the log's rate: time='1000 Hz'",
        )
    time, kept, time_faults = _time(table, clock)
    traces: dict[str, Trace] = {"time": Trace("time", time, time, "s", clock.column)}
    labels: dict[str, Labels] = {}
    for line in layout.assignments:
        column, definition = table.column(line.column), signal(line.signal)
        if column is None or definition is None or line.signal == "time":
            continue
        if definition.kind is SignalKind.LABEL:
            labels[line.signal] = label_changes(line.signal, time, column, kept)
        elif column.numbers is not None:
            values = _in_si(column.numbers, line, kept)
            traces[line.signal] = Trace(line.signal, time, values, definition.unit, column.name)
    return Flight(traces, labels, conditions, table.sha256, time_faults, table.thinned, layout.rate_filter)


def _missing(table: LogTable, layout: Layout) -> tuple[Fault, ...]:
    names = {column.name for column in table.columns}
    faults = []
    for line in layout.assignments:
        definition = signal(line.signal)
        if line.column == ROW_NUMBER and line.signal == "time":
            continue
        if line.column not in names:
            faults.append(Fault(f"there is no column '{line.column}' for {line.signal}", line.column))
        elif definition is not None and definition.kind is SignalKind.NUMBER and line.signal != "time":
            column = table.column(line.column)
            if column is not None and column.numbers is None:
                faults.append(Fault(f"holds words, {line.signal} wants numbers", line.column))
    return tuple(faults)


def _time(table: LogTable, clock: Assignment) -> tuple[FloatArray, Kept, tuple[TimeFault, ...]]:
    column = Column(ROW_NUMBER, None, np.arange(table.rows, dtype=np.float64))
    if clock.column != ROW_NUMBER:
        found = table.column(clock.column)
        column = found if found is not None else column
    with np.errstate(over="ignore", invalid="ignore"):
        stamps, faults = seconds(column, clock)
    kept: Kept = None
    if stamps.size and not np.isfinite(stamps.sum()):
        kept = np.isfinite(stamps)
        stamps = stamps[kept]
        lost = int(kept.size - stamps.size)
        what = f"{lost:,} of {kept.size:,} rows carry no readable time; they are left out"
        faults = (*faults, TimeFault("unreadable stamp", lost, 0.0, what))
    if stamps.size == 0:
        raise InputError(
            f"column '{clock.column}' holds no readable time", next_step="state another: time=COLUMN"
        )
    with np.errstate(over="ignore", invalid="ignore"):
        stamps = stamps - stamps[0]
    stamps.flags.writeable = False
    return stamps, kept, faults


def _in_si(numbers: Numbers, line: Assignment, kept: Kept) -> Numbers:
    values = numbers if kept is None else numbers[kept]
    if line.factor == 1.0 and line.offset == 0.0:
        values = values.view()
    else:
        with np.errstate(over="ignore", invalid="ignore"):
            factor, offset = values.dtype.type(line.factor), values.dtype.type(line.offset)
            if line.offset:
                values = values - offset
                values *= factor
            else:
                values = values * factor
    values.flags.writeable = False
    return values
