"""Names put into the ledger: one weight for each column and canonical signal its name speaks for."""

from __future__ import annotations

from collections.abc import Sequence

from asflown.core.columns.kinds import kind_of
from asflown.core.columns.ledger import STATED_UNIT, Ledger
from asflown.core.columns.log_units import UNITS, unit_of
from asflown.core.columns.members import (
    STICK_ORDER,
    corner_numbers,
    counted_by_axis,
    member,
    number_bases,
    set_sizes,
)
from asflown.core.columns.names import NameReading
from asflown.core.layout import Doubt
from asflown.core.log_table import Column
from asflown.core.signals import signal

#: A header that is a canonical name wins over every other reading.
CANONICAL = 12.0


def say_names(ledger: Ledger, columns: Sequence[Column], readings: Sequence[NameReading]) -> None:
    """Enter what the names say."""
    bases, corners, sizes = number_bases(readings), corner_numbers(readings), set_sizes(readings)
    for place, (column, reading) in enumerate(zip(columns, readings, strict=True)):
        if signal(column.name) is not None:
            ledger.name(place, column.name, CANONICAL, f"'{column.name}' is the canonical name")
            _canonical_unit(ledger, place, column)
            continue
        against = max((w for f, w in reading.votes.items() if f.startswith("other:")), default=0.0)
        for family, weight in _votes(reading, sizes.get(place, 0)).items():
            if family.startswith("other:"):
                continue
            name = member(family, reading, bases.get(place), corners.get(place))
            if name is None or signal(name) is None:
                continue
            if family == "stick" and counted_by_axis(family, reading):
                _ask_stick_order(ledger)
            weight -= against + (0.5 if counted_by_axis(family, reading) else 0.0)
            if weight > 0:
                ledger.name(place, name, weight, _reason(column, family, name, reading, bases.get(place)))
            _say_unit(ledger, place, column, reading, name)


def _votes(reading: NameReading, size: int) -> dict[str, float]:
    """A counted set of four, six or eight outputs goes to motors, not to three axes."""
    votes = dict(reading.votes)
    if size in (4, 6, 8) and reading.axis is None and votes.get("control", 0) > 0:
        votes["motor"] = votes.get("motor", 0.0) + votes.pop("control") - 1.0
    return votes


def _canonical_unit(ledger: Ledger, place: int, column: Column) -> None:
    kind = kind_of(column.name)
    unit = unit_of(kind, column.unit) if column.unit else None
    family = column.name.partition(".")[0]
    if unit is not None:
        ledger.stated[place, family] = unit.word
        ledger.unit(place, family, unit.word, STATED_UNIT, f"the header states {column.unit}")
    else:
        is_plain = column.name.isalpha()
        why = "" if is_plain else "a canonical name without a unit is in SI"
        ledger.unit(place, family, UNITS[kind][0].word, 0.5 if is_plain else 4.0, why)


def _ask_stick_order(ledger: Ledger) -> None:
    ledger.doubt(
        Doubt(
            "stick",
            f"the stick channels are only numbered; taken as {', '.join(STICK_ORDER)}: is that their order?",
            (", ".join(STICK_ORDER), "throttle, roll, pitch, yaw", "another"),
            "transmitters differ in the order of channels",
        )
    )


def _reason(column: Column, family: str, name: str, reading: NameReading, base: int | None) -> str:
    said = f"'{column.name}' reads as {_words(family)}"
    if counted_by_axis(family, reading):
        return f"{said}; its set counts from {base}, so number {reading.number} is {name}"
    if family in ("motor", "rotor_speed") and base == 0:
        return f"{said}; its set counts from 0"
    return said


def _words(family: str) -> str:
    return {
        "rate_command": "a commanded rate",
        "rate": "a measured rate",
        "control": "a controller output",
        "accel": "specific force",
        "motor": "a motor command",
        "rotor_speed": "a rotor speed",
        "pack_voltage": "the pack's voltage",
        "pack_current": "the pack's current",
        "stick": "a pilot's stick",
        "attitude": "an attitude angle",
    }.get(family, family.replace("_", " "))


def _say_unit(ledger: Ledger, place: int, column: Column, reading: NameReading, name: str) -> None:
    family = name.partition(".")[0]
    unit = reading.unit(family)
    speed = reading.unit("rotor_speed") if unit is None and family == "motor" else None
    if speed is not None:
        ledger.speed_commands[place] = speed.word
    if unit is None or (place, family) in ledger.units:
        return
    where = "header" if column.unit else "name"
    ledger.stated[place, family] = unit.word
    ledger.unit(place, family, unit.word, STATED_UNIT, f"the {where} states {column.unit or unit.word}")
