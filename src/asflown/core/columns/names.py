"""What a column's name says: families with log odds, axis, number, and unit."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.core.columns.kinds import Kind, kind_of
from asflown.core.columns.lexicon import (
    AXIS,
    BESIDE_AXIS,
    COMMAND,
    COMMANDED_IS_OTHER,
    CORNERS,
    MEASURED,
    SHORT,
    VOTES,
)
from asflown.core.columns.log_units import LogUnit, unit_of
from asflown.core.columns.spellings import SPELLINGS
from asflown.core.columns.words import FOREIGN, Words, split_name
from asflown.core.log_table import Column
from asflown.core.signals import SIGNALS

#: One canonical name of each family, to know its kind.
SAMPLE_OF = {d.family: re.sub(r"\.n$", ".1", d.name) for d in SIGNALS}
FAMILIES = tuple(SAMPLE_OF)
_MODIFIERS = (
    COMMAND | MEASURED | {"raw", "body", "the", "in", "of", "is", "value", "val", "data", "signal", "synth"}
)
_CHANNELLED = frozenset(
    {"motor", "rotor_speed", "stick", "rate", "rate_command", "control", "accel", "attitude"}
)


@dataclass(frozen=True, slots=True)
class NameReading:
    """What one name says.

    Attributes
    ----------
    votes
        Log odds by family; ``other:…`` where it says the column is something else.
    axis
        0, 1, 2 for roll/x, pitch/y, yaw/z.
    number
        The number that counts within a set, as written.
    throttle
        Whether a word of the collective stands beside another subject (``stick throttle``).
    stem
        What columns of one set have in common.
    """

    words: Words
    votes: dict[str, float]
    axis: int | None = None
    number: int | None = None
    is_command: bool = False
    is_throttle: bool = False
    stem: tuple[str, ...] = ()
    corner: tuple[str, ...] = ()

    def unit(self, family: str) -> LogUnit | None:
        """The unit the header or name states, were the column of that family."""
        if family not in SAMPLE_OF:
            return None
        kind = kind_of(SAMPLE_OF[family])
        spelled = (word for word in self.words.words if len(word) >= 3 and word in SPELLINGS)
        return next(filter(None, (unit_of(kind, text) for text in (*self.words.units, *spelled))), None)


def read_names(columns: Sequence[Column]) -> list[NameReading]:
    """Read all names; single letters mean nothing where they merely count through the alphabet."""
    readings = [read_name(column.name, column.unit) for column in columns]
    singles = [column.name.strip().casefold() for column in columns if len(column.name.strip()) == 1]
    if sum(name not in SHORT for name in singles) < 3:
        return readings
    empty = NameReading(Words(()), {})
    return [
        empty if len(column.name.strip()) == 1 and not column.unit else reading
        for column, reading in zip(columns, readings, strict=True)
    ]


def read_name(name: str, unit: str | None = None) -> NameReading:
    """Read a column's name.

    Examples
    --------
    >>> reading = read_name("sp_roll_rate")
    >>> max(reading.votes, key=reading.votes.get), reading.axis
    ('rate_command', 0)
    """
    words = split_name(name, unit)
    number, corner = _number(words, _spelled(words))
    if number is not None and not words.numbers:
        # The last letter counts; it is neither a unit nor a word.
        words = Words(
            tuple(w for w in words.words if w != words.tail), (), (unit,) if unit else (), words.tail
        )
    spelled = _spelled(words)
    axis_words = [word for word in spelled if word in AXIS]
    axis = AXIS[axis_words[-1]] if axis_words else None
    is_command = any(word in COMMAND for word in spelled)
    votes = _votes(spelled, words)
    _commanded(votes, spelled, is_command, axis is not None or bool(words.numbers))
    _with_unit(votes, words)
    return NameReading(
        words,
        {family: weight for family, weight in votes.items() if weight > 0},
        axis,
        number,
        is_command,
        any(word in ("throttle", "thr", "collective", "thrust") for word in spelled),
        tuple(word for word in spelled if word not in AXIS and word not in corner),
        corner,
    )


def _spelled(words: Words) -> tuple[str, ...]:
    """The words with single letters written out where nothing else says what the column is."""
    rest = [word for word in words.words if word not in _MODIFIERS]
    made: list[str] = []
    for word in words.words:
        if len(word) == 1 and (word in SHORT or word in BESIDE_AXIS):
            others = [other for other in rest if other != word]
            if word in BESIDE_AXIS and others and all(other in AXIS for other in others):
                written: tuple[str, ...] = (BESIDE_AXIS[word],)
            elif word in "pqr":
                written = _body_rate(word, others, bool(words.numbers))
            elif word in "viu" and any(other in VOTES and "pack_voltage" in VOTES[other] for other in others):
                written = ("current",) if word == "i" else ("voltage",)
            elif not others or (word == "t" and not set(others) & {"temperature", "motor"}):
                written = tuple(SHORT.get(word, word).split())
            else:
                written = (word,)
            made += written
        else:
            made.append(word)
    return tuple(made)


def _body_rate(letter: str, others: list[str], is_counted: bool) -> tuple[str, ...]:
    """p, q, r are body rates (ISO 1151-2) where nothing else is named; q with a number is a quaternion."""
    if is_counted:
        return ("quaternion",) if letter == "q" and not others else (letter,)
    if not others or any("rate" in VOTES.get(other, {}) for other in others):
        return tuple(SHORT[letter].split())
    return (letter,)


def _votes(spelled: tuple[str, ...], words: Words) -> dict[str, float]:
    votes: dict[str, float] = defaultdict(float)
    for word in dict.fromkeys((*spelled, *(unit.casefold() for unit in words.units))):
        for family, weight in VOTES.get(word, {}).items():
            votes[family] += weight
    if "quaternion" not in spelled and {"angular", "velocity"} <= set(spelled):
        votes["rate"] += 3
        votes["velocity"] = 0
    _joined_subjects(votes, set(spelled))
    return votes


def _joined_subjects(votes: dict[str, float], spelled: set[str]) -> None:
    """Two subjects in one name: the whole is neither sum nor the first (``motor current``, ``esc temp``)."""
    has_motor = bool(spelled & {"motor", "mot", "motors", "esc", "escs", "rotor", "mtr", "prop"})
    if (
        has_motor
        and votes.get("rotor_speed", 0) >= 1.5
        and spelled & {"speed", "rpm", "erpm", "omega", "rev"}
    ):
        votes["rotor_speed"] += 2.5
        votes["motor"] -= 2.5
        votes["velocity"] = votes["rate"] = 0
    machines = {
        "motor",
        "mot",
        "motors",
        "esc",
        "escs",
        "rotor",
        "mtr",
        "gyro",
        "imu",
        "mcu",
        "cpu",
        "board",
        "core",
    }
    if spelled & machines and votes.get("air_temperature", 0) > 0:
        votes["other:machine_temperature"] += 9
    if has_motor and max(votes.get("pack_current", 0), votes.get("pack_voltage", 0)) >= 3:
        votes["other:motor_supply"] += 9
    if spelled & {"roll", "pitch", "yaw", "rol", "pit"}:
        subjects = max((w for f, w in votes.items() if f not in ("attitude",)), default=0)
        if subjects >= 2:
            votes["attitude"] -= 1.5
    if spelled & {"stick", "sticks", "rc", "pilot", "joystick", "ch", "chan", "channel"}:
        votes["throttle"] = min(votes.get("throttle", 0), 1.0)
        votes["attitude"] = votes.get("attitude", 0) - 2
        votes["rate"] = votes.get("rate", 0) - 2
    if spelled & {"flight"} and spelled & {"mode", "modes"}:
        votes["mode"] += 1


def _commanded(votes: dict[str, float], spelled: tuple[str, ...], is_command: bool, has_member: bool) -> None:
    if not is_command:
        return
    rate = votes.pop("rate", 0.0)
    subjects = {word for word in spelled if word not in COMMAND and word not in AXIS}
    named = max((w for f, w in votes.items() if f != "attitude"), default=0.0)
    if rate >= 2:
        votes["rate_command"] = rate + 2
        votes["attitude"] = 0
    elif has_member and named < 2 and votes.get("attitude", 0) < 3 and not subjects - _MODIFIERS:
        votes["rate_command"] = 2.5
        votes["other:attitude_command"] = 1.8
        votes["attitude"] = 0
    for family in COMMANDED_IS_OTHER:
        weight = votes.get(family, 0)
        if weight > 0:
            votes[f"other:{family}_command"] += weight + 2
            votes[family] = 0


def _with_unit(votes: dict[str, float], words: Words) -> None:
    """A stated unit speaks for the families it fits and against the others."""
    if not words.units:
        return
    for family in SAMPLE_OF:
        kind = kind_of(SAMPLE_OF[family])
        if kind is Kind.LABEL:
            continue
        fits = any(unit_of(kind, text) is not None for text in words.units)
        if fits and votes.get(family, 0) > 0:
            votes[family] += 3.0 if family.startswith("pack_") else 1.0
        elif not fits and votes.get(family, 0) > 0 and _is_sure_unit(words.units):
            votes[family] -= 1.5 if family in ("control", "stick", "motor", "throttle") else 6.0
    if any(text.casefold() in FOREIGN for text in words.units):
        votes["other:foreign_unit"] += 6.0
    _lone_unit(votes, words)


def _is_sure_unit(units: tuple[str, ...]) -> bool:
    return any(len(text.strip("[]() ")) > 1 or text.strip("[]() ") in "VAK%g" for text in units)


_BY_UNIT = {
    Kind.RATE: (("rate", 2.0),),
    Kind.ACCELERATION: (("accel", 2.0),),
    Kind.ROTOR: (("rotor_speed", 1.0),),
    Kind.VOLTAGE: (("pack_voltage", 2.0),),
    Kind.CURRENT: (("pack_current", 2.0),),
    Kind.ANGLE: (("attitude", 1.5),),
}


def _lone_unit(votes: dict[str, float], words: Words) -> None:
    """A unit beside words that say nothing: it alone speaks, a little."""
    if any(weight > 1 for weight in votes.values()):
        return
    for kind, families in _BY_UNIT.items():
        if any(unit_of(kind, text) is not None for text in words.units):
            for family, weight in families:
                votes[family] += weight


def _number(words: Words, spelled: tuple[str, ...]) -> tuple[int | None, tuple[str, ...]]:

    corner = tuple(word for word in spelled if word in CORNERS)
    if words.numbers:
        return words.numbers[-1], corner
    if words.tail and words.tail in "abcdefgh" and any("motor" in VOTES.get(word, {}) for word in spelled):
        return "abcdefgh".index(words.tail), corner
    return None, corner


def has_members(family: str) -> bool:
    """Whether a family has an axis or a number."""
    return family in _CHANNELLED or family in ("position", "velocity")
