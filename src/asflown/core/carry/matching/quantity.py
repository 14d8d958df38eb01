"""Numbers with the unit they are meant in: from the unit stated, the name, the description or the value."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from asflown.core.carry.matching.words import raw_words
from asflown.core.catalog import ParameterDef
from asflown.core.units import common_scale

#: Amounts of data; the letter prefixes are powers of 1024 (common practice, no source).
_DATA: Mapping[str, float] = {
    **dict.fromkeys(("b", "byte", "bytes"), 1.0),
    **dict.fromkeys(("k", "kb", "kib", "kilobytes"), 1024.0),
    **dict.fromkeys(("mb", "mib", "megabytes"), 1024.0**2),
    **dict.fromkeys(("g", "gb", "gib", "gigabytes"), 1024.0**3),
    **dict.fromkeys(("tb", "tib"), 1024.0**4),
}
_DAYS: Mapping[str, float] = {"d": 86400.0, "day": 86400.0, "days": 86400.0, "millis": 0.001}
#: Unit words too short or too common to be read out of a name.
_NOT_IN_NAMES = frozenset(
    {"m", "b", "k", "g", "a", "v", "c", "d", "min", "us", "in", "n", "h", "t", "w", "s"}
)
_VALUE = re.compile(r"\s*(?P<number>[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s*(?P<unit>[^\W\d_%°/]*[%°/\w]*)\s*")
_SAID = re.compile(
    r"\b(?:in|of)\s+(?P<word>(?:milli|micro|kilo|mega)?[a-z]{2,9})\b|\((?:in\s+)?(?P<sign>[^\s()]{1,8})\)",
    re.I,
)
#: Words of a description that are units when they follow "in" or stand in brackets.
_LONG = re.compile(
    r"(?:milli|micro)?seconds?|minutes?|hours?|days?|(?:kilo|mega|giga)?bytes?|percent|degrees?|radians?"
    r"|(?:milli|centi|kilo)?met(?:re|er)s?|(?:milli)?volts?|(?:milli)?amp(?:ere)?s?|(?:kilo|mega)?hertz",
    re.I,
)


@dataclass(frozen=True, slots=True)
class Measure:
    """A unit: its dimension in a word, and the factor to the dimension's base unit."""

    dimension: str
    factor: float


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value as a number; ``base`` in the base unit of ``dimension`` where the unit is known."""

    number: float
    dimension: str | None = None
    base: float | None = None


@lru_cache(maxsize=4096)
def measure(text: str) -> Measure | None:
    """What a unit text means; ``None`` where it is not known or starts at another zero (°C)."""
    word = text.strip()
    lower = word.casefold()
    if lower in _DATA:
        return Measure("data", _DATA[lower])
    if lower in _DAYS:
        return Measure("time", _DAYS[lower])
    scale = common_scale(word) or common_scale(lower)
    if scale is None or scale.offset:
        return None
    return Measure(scale.dimension, float(scale.factor))


def unit_of(definition: ParameterDef) -> Measure | None:
    """The unit a parameter's numbers are in: stated, else at the end of its name, else in its description."""
    if definition.unit:
        return measure(definition.unit)
    words = raw_words(definition.name)
    if len(words) > 1 and words[-1] not in _NOT_IN_NAMES:
        found = measure(words[-1])
        if found is not None:
            return found
    return _described(definition.description or "")


@lru_cache(maxsize=65536)
def _described(text: str) -> Measure | None:
    for match in _SAID.finditer(text):
        word, sign = match["word"], match["sign"]
        if word and _LONG.fullmatch(word):
            return measure(word)
        if sign and (sign[0].isalpha() or sign.startswith(("0.", "1/", "%", "°"))):
            found = measure(sign)
            if found is not None:
                return found
    return None


def quantity_of(value: str | None, unit: Measure | None) -> Quantity | None:
    """A value as a number with its unit; ``None`` where it is no finite number."""
    match = _VALUE.fullmatch(value) if value is not None else None
    if match is None:
        return None
    number = float(match["number"])
    if match["unit"]:
        unit = measure(match["unit"])
        if unit is None:
            return None
    base = number * (unit.factor if unit else 1.0)
    if not math.isfinite(base):
        return None
    return Quantity(number, unit.dimension, base) if unit else Quantity(number)
