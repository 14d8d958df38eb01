"""Calibrations that a refit makes invalid though no line of the plan says so: the board sits otherwise."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from asflown.core.carry.dispositions import Disposition, Line
from asflown.core.catalog import Catalog
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Key
from asflown.core.roles import choice_of, texts_by_role, values_by_role

#: Sensors that sit on the board: what they measure is turned with it, so their calibrations go with it.
ON_BOARD = ("level", "accelerometer", "gyro", "magnetometer")
#: How a role of a calibration begins.
CALIBRATION = "calibration."
#: Roles that say how something sits in the airframe, by how they begin, and the sensors turned with it.
ORIENTATIONS: Mapping[str, tuple[str, ...]] = {
    "board.orientation": ON_BOARD,
    "magnetometer.orientation": ("magnetometer",),
}
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
) -> Mapping[str, tuple[str, ...]]:
    """Which sensors sit otherwise after a refit, by the settings, each with the differences in words.

    Angles that differ by whole turns are the same. What only one release states says nothing.
    """
    numbers = [values_by_role(values, catalog).values for values, catalog in ((found, old), (planned, new))]
    words = [dict(_words(values, catalog)) for values, catalog in ((found, old), (planned, new))]
    made: dict[str, tuple[str, ...]] = {}
    for role in sorted(set(words[0]) & set(words[1])):
        begins = _begins(role)
        axis = role.removeprefix(begins).strip(".")
        what = f"{begins.replace('.', ' ')}{f', {axis}' if axis else ''}"
        if role in numbers[0] and role in numbers[1]:
            first, second = numbers[0][role], numbers[1][role]
            if abs(math.remainder(first - second, math.tau)) <= _TURNED:
                continue
            said = f"{what} {math.degrees(first):.4g}° → {math.degrees(second):.4g}°"
        elif words[0][role].casefold() != words[1][role].casefold():
            said = f"{what} {words[0][role]} → {words[1][role]}"
        else:
            continue
        for sensor in ORIENTATIONS[begins]:
            made[sensor] = (*made.get(sensor, ()), said)
    return made


def _begins(role: str) -> str:
    return next((begins for begins in ORIENTATIONS if role == begins or role.startswith(f"{begins}.")), "")


def _words(values: Mapping[Key, str], catalog: Catalog) -> Iterator[tuple[str, str]]:
    for role, told in texts_by_role(values, catalog).items():
        if _begins(role) and len({text for _, text in told.texts}) == 1:
            parameter, text = told.texts[0]
            choice = choice_of(parameter, text)
            yield role, choice.label if choice else text


def stale(plan: Plan, turned: Mapping[str, tuple[str, ...]], new: Catalog | None) -> tuple[Stale, ...]:
    """Calibrations of the sensors on the board that a plan carries over though they no longer hold.

    Parameters
    ----------
    turned
        Sensors that sit otherwise (see `turned`).

    Notes
    -----
    A calibration whose settings the plan has as *redo* has its line there already and is left out. Another
    board has other sensors: every calibration is named, whether or not the catalogs know of it.
    """
    redone = {key.name for line in plan.lines if line.disposition is Disposition.REDO for key in _keys(line)}
    is_other = plan.purpose is Purpose.NEW_BOARD
    made = []
    for sensor in ON_BOARD if is_other else tuple(one for one in ON_BOARD if one in turned):
        names = tuple(
            parameter.name
            for parameter in (new.parameters if new else ())
            if (parameter.role or "").startswith(f"{CALIBRATION}{sensor}.")
        )
        if names and set(names) <= redone:
            continue
        why = "the sensors are those of another board" if is_other else ", ".join(turned[sensor])
        made.append(Stale(sensor, why, _HOW[sensor], _COMMAND[sensor], names))
    return tuple(made)


def _keys(line: Line) -> Iterator[Key]:
    yield from (item.key for item in line.new)
    yield from (item.key for item in line.old)
