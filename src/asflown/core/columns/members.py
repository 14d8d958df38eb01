"""Which member of its family a named column is: the axis, or the number, from 0 or 1 as its set counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from asflown.core.columns.names import NameReading
from asflown.core.signals import AXES

_AXES3 = {"accel": ("x", "y", "z"), "velocity": ("north", "east", "up"), "position": ("north", "east", "up")}
#: The usual order of stick channels: roll, pitch, throttle, yaw. Common practice, no source; a doubt is kept.
STICK_ORDER = ("roll", "pitch", "throttle", "yaw")
_BY_AXIS = frozenset(
    {"rate", "rate_command", "control", "accel", "attitude", "stick", "velocity", "position"}
)
_BY_NUMBER = frozenset({"motor", "rotor_speed"})


def number_bases(readings: Sequence[NameReading]) -> dict[int, int]:
    """For each column with a number, what the lowest number of its set is taken to be: 0, 1, or another."""
    sets: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for column, reading in enumerate(readings):
        if reading.number is not None:
            sets[_set_of(reading)].append(column)
    bases: dict[int, int] = {}
    for columns in sets.values():
        numbers = sorted({readings[column].number or 0 for column in columns})
        base = 0 if numbers[0] == 0 else 1 if numbers[0] <= 1 or len(numbers) < 3 else numbers[0]
        bases.update(dict.fromkeys(columns, base))
    return bases


def set_sizes(readings: Sequence[NameReading]) -> dict[int, int]:
    """For each column with a number, how many columns its set has."""
    sets: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for column, reading in enumerate(readings):
        if reading.number is not None:
            sets[_set_of(reading)].append(column)
    return {column: len(columns) for columns in sets.values() for column in columns}


def _set_of(reading: NameReading) -> tuple[object, ...]:
    return (reading.stem, reading.words.units, reading.words.numbers[:-1], reading.axis)


def corner_numbers(readings: Sequence[NameReading]) -> dict[int, int]:
    """Columns named by corners (``motor_fl``), or not at all, are counted in the order of the columns."""
    seen: dict[tuple[str, ...], int] = defaultdict(int)
    numbers: dict[int, int] = {}
    for column, reading in enumerate(readings):
        if reading.number is None and any(f in _BY_NUMBER for f in reading.votes):
            seen[reading.stem] += 1
            numbers[column] = seen[reading.stem]
    return numbers


def member(family: str, reading: NameReading, base: int | None, corner: int | None) -> str | None:
    """The canonical name of the member, ``None`` where the name does not tell it."""
    if family in _BY_NUMBER:
        if reading.number is not None and base is not None:
            return f"{family}.{reading.number - base + 1}"
        return f"{family}.{corner}" if corner else None
    if family not in _BY_AXIS:
        return family
    place = _place(family, reading, base)
    return _named(family, place) if place is not None else None


def _place(family: str, reading: NameReading, base: int | None) -> int | None:
    if family == "stick" and reading.is_throttle:
        return 3
    if reading.axis is not None:
        return reading.axis
    words = set(reading.words.words)
    if family in ("velocity", "position"):
        found = [i for i, word in enumerate(("north", "east", "up")) if word in words or word[0] in words]
        if found:
            return found[0]
    if reading.number is None or base is None:
        return None
    place = reading.number - base
    if family == "stick":
        return (0, 1, 3, 2)[place] if 0 <= place < 4 else None
    return place if 0 <= place < 4 else None


def _named(family: str, place: int) -> str | None:
    if place == 3:
        return {"stick": "stick.throttle", "rate_command": "throttle"}.get(family)
    name = f"{family}.{_AXES3.get(family, AXES)[place]}"
    return {"position.up": "altitude"}.get(name, name)


def counted_by_axis(family: str, reading: NameReading) -> bool:
    """Whether the axis was told by a number alone (``gyro[0]``)."""
    return family in _BY_AXIS and reading.axis is None and reading.number is not None
