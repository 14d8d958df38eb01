"""Calibrations that a refit makes invalid though no line of the plan says so: the board sits otherwise."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from asflown.core.carry.dispositions import Disposition, Line
from asflown.core.catalog import Catalog
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Key
from asflown.core.roles import choice_of, texts_by_role, values_by_role

#: Sensors that sit on the board: what they measure is turned with it, so their calibrations go with it.
ON_BOARD = ("level", "accelerometer", "gyro", "magnetometer")
#: How a role of a calibration begins, and the roles that say how the board sits in the airframe.
CALIBRATION, ORIENTATION = "calibration.", "board.orientation"
#: rad below which a board was not turned.
_TURNED = math.radians(0.5)
_HOW = {
    "level": "take the level again",
    "accelerometer": "lay the aircraft on each of its six sides again",
    "gyro": "leave it untouched and take the gyro's still values again",
    "magnetometer": "turn the aircraft about every axis again, away from iron",
}
_COMMAND = {
    "level": "asflown calibrate level",
    "accelerometer": "asflown calibrate accelerometer",
    "gyro": "asflown calibrate gyro",
    "magnetometer": "asflown calibrate magnetometer",
}


@dataclass(frozen=True, slots=True)
class Stale:
    """A calibration that no longer holds.

    Attributes
    ----------
    sensor
        ``level``, ``accelerometer``, ``gyro``, ``magnetometer``.
    settings
        Settings that hold it, by the new release's roles; empty where the release does not say.
    """

    sensor: str
    why: str
    how: str
    command: str
    settings: tuple[str, ...] = ()


def turned(
    found: Mapping[Key, str], old: Catalog, planned: Mapping[Key, str], new: Catalog
) -> tuple[str, ...]:
    """How the board sits otherwise after a refit, by the settings: each difference in words.

    Angles that differ by whole turns are the same. What only one release states says nothing.
    """
    numbers = [values_by_role(values, catalog).values for values, catalog in ((found, old), (planned, new))]
    words = [dict(_words(values, catalog)) for values, catalog in ((found, old), (planned, new))]
    made = []
    for role in sorted(set(words[0]) & set(words[1])):
        axis = role.removeprefix(ORIENTATION).strip(".") or "orientation"
        if role in numbers[0] and role in numbers[1]:
            first, second = numbers[0][role], numbers[1][role]
            if abs(math.remainder(first - second, math.tau)) > _TURNED:
                made.append(f"{axis} {math.degrees(first):.4g}° → {math.degrees(second):.4g}°")
        elif words[0][role].casefold() != words[1][role].casefold():
            made.append(f"{axis} {words[0][role]} → {words[1][role]}")
    return tuple(made)


def _words(values: Mapping[Key, str], catalog: Catalog) -> Iterator[tuple[str, str]]:
    for role, told in texts_by_role(values, catalog).items():
        if role.startswith(ORIENTATION) and len({text for _, text in told.texts}) == 1:
            parameter, text = told.texts[0]
            choice = choice_of(parameter, text)
            yield role, choice.label if choice else text


def stale(plan: Plan, turned: Iterable[str], new: Catalog | None) -> tuple[Stale, ...]:
    """Calibrations of the sensors on the board that a plan carries over though they no longer hold.

    Parameters
    ----------
    turned
        How the board sits otherwise (see `turned`); empty where it sits as before.

    Notes
    -----
    A calibration whose settings the plan has as *redo* has its line there already and is left out. Another
    board has other sensors: every calibration is named, whether or not the catalogs know of it.
    """
    differences = tuple(turned)
    if plan.purpose is Purpose.NEW_BOARD:
        why = "the sensors are those of another board"
    elif differences:
        why = f"the board sits otherwise in the airframe: {', '.join(differences)}"
    else:
        return ()
    redone = {key.name for line in plan.lines if line.disposition is Disposition.REDO for key in _keys(line)}
    made = []
    for sensor in ON_BOARD:
        names = tuple(
            parameter.name
            for parameter in (new.parameters if new else ())
            if (parameter.role or "").startswith(f"{CALIBRATION}{sensor}.")
        )
        if names and set(names) <= redone:
            continue
        made.append(Stale(sensor, why, _HOW[sensor], _COMMAND[sensor], names))
    return tuple(made)


def _keys(line: Line) -> Iterator[Key]:
    yield from (item.key for item in line.new)
    yield from (item.key for item in line.old)
