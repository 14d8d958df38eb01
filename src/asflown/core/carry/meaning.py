"""Whether a parameter of the old release and one of the new mean the same."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from asflown.core.catalog import Choice, ParameterDef, ValueKind

_NUMBERS = frozenset({ValueKind.INTEGER, ValueKind.REAL, ValueKind.UNKNOWN})
_CHOICES = frozenset({ValueKind.CHOICE, ValueKind.FLAG, ValueKind.UNKNOWN})
#: Two descriptions that share less than this share of their words speak of different things.
_SHARED_WORDS = 0.3


class Kinship(StrEnum):
    """How two definitions stand to each other."""

    SAME = "same"
    SCALED = "other unit"
    RENUMBERED = "choices renumbered"
    SUSPECT = "may mean something else"
    UNSTATED = "nothing states the meaning"


@dataclass(frozen=True)
class Meaning:
    """The comparison of two definitions.

    Attributes
    ----------
    factor
        ``new = old * factor`` where units or roles tell it.
    values
        Old value to new value by choice text (or bit to bit), where choices are stated.
    lost
        Old choices without a counterpart, as ``value (text)``.
    detail
        Short word that separates groups, e.g. ``s -> ms``.
    says
        What differs, in words.
    """

    kinship: Kinship
    factor: Decimal | None = None
    values: Mapping[str, str] = field(default_factory=dict)
    lost: Mapping[str, str] = field(default_factory=dict)
    bits: bool = False
    detail: str = ""
    says: str = ""


def compare_meaning(old: ParameterDef, new: ParameterDef, *, trusted: bool = False) -> Meaning:
    """Compare two definitions that a name, a note or a proposal brings together.

    Parameters
    ----------
    trusted
        A complete change note says that what it does not name keeps its meaning; then definitions
        that state nothing are taken as the same.
    """
    for look in (_units, _choices, _bits, _kinds, _role, _range, _words):
        found = look(old, new)
        if found is not None:
            return found
    if trusted or _is_stated(old, new):
        return Meaning(Kinship.SAME)
    return Meaning(Kinship.UNSTATED, says="no choice text, role or description says what it means")


def _is_stated(old: ParameterDef, new: ParameterDef) -> bool:
    """Whether both say in words what they mean; one unit alone has many meanings."""
    pairs = (
        (old.role, new.role),
        (old.description, new.description),
        (old.choices, new.choices),
        (old.bits, new.bits),
    )
    return any(a and b for a, b in pairs)


def _units(old: ParameterDef, new: ParameterDef) -> Meaning | None:
    by_role = _role_factor(old, new)
    if not old.unit or not new.unit or _plain(old.unit) == _plain(new.unit):
        if by_role is None or by_role == 1:
            return None
        says = f"stored in steps of {old.factor} SI before, of {new.factor} SI now"
        return Meaning(Kinship.SCALED, by_role, detail=f"x{by_role.normalize():f}", says=says)
    from asflown.core.units import factor_between

    factor = factor_between(old.unit, new.unit)
    detail = f"{old.unit}->{new.unit}"
    if factor is None:
        says = f"unit {old.unit} before, {new.unit} now, and one does not convert to the other"
        return Meaning(Kinship.SUSPECT, detail=detail, says=says)
    if factor == 1:
        return None
    return Meaning(Kinship.SCALED, factor, detail=detail, says=f"unit {old.unit} before, {new.unit} now")


def _role_factor(old: ParameterDef, new: ParameterDef) -> Decimal | None:
    if not old.role or old.role != new.role or not old.factor or not new.factor:
        return None
    return old.factor / new.factor


def _plain(unit: str) -> str:
    return unit.strip().casefold().replace("µ", "u").replace("μ", "u")


def _role(old: ParameterDef, new: ParameterDef) -> Meaning | None:
    if old.role and new.role and old.role != new.role:
        says = f"role {old.role} before, {new.role} now"
        return Meaning(Kinship.SUSPECT, detail="role", says=says)
    return None


def _label(choice: Choice) -> str:
    return " ".join(re.findall(r"\w+", choice.label.casefold()))


def _choices(old: ParameterDef, new: ParameterDef) -> Meaning | None:
    return _aligned(old.choices, new.choices, bits=False)


def _bits(old: ParameterDef, new: ParameterDef) -> Meaning | None:
    return _aligned(old.bits, new.bits, bits=True)


def _aligned(old: tuple[Choice, ...], new: tuple[Choice, ...], *, bits: bool) -> Meaning | None:
    """Align choices (or bits) by their texts; ``None`` when each old one kept its number and text."""
    if not old or not new:
        return None
    by_label: dict[str, list[str]] = {}
    for choice in new:
        by_label.setdefault(_label(choice), []).append(choice.value)
    values, lost = {}, {}
    for choice in old:
        there = by_label.get(_label(choice), [])
        if choice.value in there:
            values[choice.value] = choice.value
        elif len(there) == 1:
            values[choice.value] = there[0]
        else:
            lost[choice.value] = choice.label
    if not lost and all(a == b for a, b in values.items()):
        return None
    moved = [f"{a}->{b}" for a, b in values.items() if a != b]
    what = "bits" if bits else "choices"
    says = f"{what} carry other numbers now" if moved else f"{what} changed"
    if lost:
        says += f"; no counterpart for {', '.join(f'{v} ({t})' for v, t in lost.items())}"
    detail = ",".join(moved + [f"{value}->?" for value in lost])
    return Meaning(Kinship.RENUMBERED, values=values, lost=lost, bits=bits, detail=detail, says=says)


def _kinds(old: ParameterDef, new: ParameterDef) -> Meaning | None:
    pair = {old.kind, new.kind}
    if pair == {ValueKind.INTEGER, ValueKind.REAL} and _role_factor(old, new) is None:
        says = f"a {old.kind} before, a {new.kind} now: its steps may be other ones"
        return Meaning(Kinship.SUSPECT, detail=f"{old.kind}->{new.kind}", says=says)
    if pair <= _NUMBERS or pair <= _CHOICES or len(pair) == 1 or ValueKind.UNKNOWN in pair:
        return None
    says = f"a {old.kind} before, a {new.kind} now"
    return Meaning(Kinship.SUSPECT, detail=f"{old.kind}->{new.kind}", says=says)


def _range(old: ParameterDef, new: ParameterDef) -> Meaning | None:
    before, after = (old.minimum, old.maximum), (new.minimum, new.maximum)
    both = [(a, b) for a, b in zip(before, after, strict=True) if a is not None and b is not None]
    if all(a == b for a, b in both):
        return None
    says = f"range {_span(before)} before, {_span(after)} now"
    return Meaning(Kinship.SUSPECT, detail="range", says=says)


def _span(bounds: tuple[Decimal | None, Decimal | None]) -> str:
    low, high = bounds
    return f"{'?' if low is None else low}..{'?' if high is None else high}"


def _words(old: ParameterDef, new: ParameterDef) -> Meaning | None:
    if not old.description or not new.description:
        return None
    before = set(re.findall(r"\w+", old.description.casefold()))
    after = set(re.findall(r"\w+", new.description.casefold()))
    if len(before & after) >= _SHARED_WORDS * len(before | after):
        return None
    return Meaning(Kinship.SUSPECT, detail="description", says="the description speaks of something else now")


def word_for(value: str, definition: ParameterDef) -> str | None:
    """The word a plain value stands for (``off``, ``automatic``); ``None`` where it is the number itself."""
    from asflown.core.values import number

    read = number(value)
    for choice in definition.plain_values:
        if choice.value == value or (read is not None and read == number(choice.value)):
            return choice.label
    return None


def same_word(a: str | None, b: str | None) -> bool:
    """Whether two words are one, capitals aside; no word is the same as no word."""
    return (a or "").casefold() == (b or "").casefold()


def became_word(found: str, left: str | None, old: ParameterDef, new: ParameterDef) -> str | None:
    """Say so when a number of the old parameter is a word of the new one; ``None`` when it is not."""
    if left is None or word_for(found, old) is not None:
        return None
    word = word_for(left, new)
    return None if word is None else f"{left} was the number itself and means '{word}' now"
