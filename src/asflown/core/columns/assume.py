"""What a person stated on the command line: it wins over everything."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from asflown.core.columns.kinds import Kind, kind_of
from asflown.core.columns.log_units import LogUnit, unit_of, words_possible
from asflown.core.columns.names import FAMILIES, SAMPLE_OF
from asflown.core.log_table import LogTable
from asflown.core.signals import SIGNALS, signal
from asflown.errors import Fault, InputError

#: A log without a time column: rows are counted, at a stated rate.
ROW_NUMBER = "(row number)"


@dataclass(frozen=True)
class Stated:
    """The statements, understood.

    Attributes
    ----------
    columns
        Column by signal.
    units
        Unit by family or signal.
    """

    columns: dict[str, str] = field(default_factory=dict)
    units: dict[str, LogUnit] = field(default_factory=dict)

    def unit(self, name: str) -> LogUnit | None:
        """The unit stated for a signal, or for its family."""
        return self.units.get(name) or self.units.get(name.partition(".")[0])


def understand(assume: Mapping[str, str], table: LogTable) -> Stated:
    """Read statements such as ``rate=deg/s`` or ``motor.1=PWM_A``.

    Raises
    ------
    InputError
        With every statement that names no signal, or neither a column nor a unit of it; says what may be.
    """
    stated = Stated()
    faults = [fault for key, value in assume.items() if (fault := _one(stated, key.strip(), value, table))]
    faults += _twice(stated)
    if faults:
        raise InputError(
            f"{len(faults)} statement{'s' if len(faults) > 1 else ''} cannot be used",
            faults=tuple(faults),
            next_step="state SIGNAL=COLUMN or SIGNAL=UNIT, e.g. rate=deg/s",
        )
    return stated


def _one(stated: Stated, key: str, value: str, table: LogTable) -> Fault | None:
    where = f"{key}={value}"
    is_family = key in FAMILIES
    if not is_family and signal(key) is None:
        possible = ", ".join(dict.fromkeys((*FAMILIES, *(s.name for s in SIGNALS))))
        return Fault(f"'{key}' is no signal; possible: {possible}", where)
    kind = kind_of(SAMPLE_OF[key.partition(".")[0]])
    has_member = signal(key) is not None
    if has_member and table.column(value) is not None:
        stated.columns[key] = value
        return None
    unit = unit_of(kind, value)
    if unit is not None:
        stated.units[key] = unit
        if kind is Kind.TIME and value.strip().lower().endswith("hz"):
            stated.columns.setdefault("time", ROW_NUMBER)
        return None
    columns = ", ".join(column.name for column in table.columns[:40])
    more = f"; columns: {columns}" if has_member else ""
    return Fault(f"'{value}' is no unit of {key}; possible: {', '.join(words_possible(kind))}{more}", where)


def _twice(stated: Stated) -> list[Fault]:
    seen: dict[str, str] = {}
    faults = []
    for name, column in stated.columns.items():
        if column in seen:
            faults.append(Fault(f"column '{column}' is stated for {seen[column]} too", f"{name}={column}"))
        seen[column] = name
    return faults
