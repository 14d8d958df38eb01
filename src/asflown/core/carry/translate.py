"""The value that means the same under the new definition."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.carry.meaning import Meaning
from asflown.core.carry.sentinel import suspected_word
from asflown.core.catalog import Choice, ConversionSpec, ParameterDef


@dataclass(frozen=True)
class Translated:
    """The result: ``value`` is ``None`` where nothing means the same.

    Attributes
    ----------
    is_word
        Both releases say in words what the value means. A bare 0 or -1 under a new unit may be a word
        nobody stated, and is then no proof that nothing changed.
    """

    value: str | None
    is_exact: bool
    says: str
    is_word: bool = False


def translate(value: str, meaning: Meaning, old: ParameterDef, new: ParameterDef) -> Translated:
    """Carry one value over a change of unit, or of choice or bit numbers.

    Plain values (off, automatic) are matched by their text and never scaled; what may be one is not either.
    """
    plain = next((choice for choice in old.plain_values if choice.value == value), None)
    if plain is not None:
        return _plain(plain, new)
    if meaning.factor is not None:
        suspected = suspected_word(value, old)
        if suspected is not None:
            return Translated(None, False, f"{suspected}, so it is not scaled")
        from asflown.core.conversion import convert

        result = convert(
            ConversionSpec(factor=meaning.factor),
            {old.name: value},
            new,
            old_def=old,
            new_name=new.name,
        )
        fits = result.value if result.problem is None else None
        return Translated(fits, result.exact, result.problem.says if result.problem else result.says)
    return _bits(value, meaning) if meaning.bits else _choice(value, meaning, old)


def _plain(plain: Choice, new: ParameterDef) -> Translated:
    for choice in (*new.plain_values, *new.choices):
        if choice.label.casefold() == plain.label.casefold():
            says = f"{plain.value} ({plain.label}) is a word, not a number"
            return Translated(choice.value, True, says, is_word=True)
    says = f"{plain.value} means '{plain.label}', and the new release states no value for that"
    return Translated(None, False, says)


def _choice(value: str, meaning: Meaning, old: ParameterDef) -> Translated:
    if value in meaning.values:
        there = meaning.values[value]
        label = old.choice_label(value)
        return Translated(there, True, f"'{label}' was {value}, is {there}", is_word=True)
    if value in meaning.lost:
        return Translated(None, False, f"'{meaning.lost[value]}' does not exist any more")
    return Translated(None, False, f"{value} was not a stated choice")


def _bits(value: str, meaning: Meaning) -> Translated:
    if not value.isdecimal():
        return Translated(None, False, f"{value} is no bit mask")
    number, result = int(value), 0
    for bit in range(number.bit_length()):
        if not number >> bit & 1:
            continue
        there = meaning.values.get(str(bit))
        if there is None:
            what = meaning.lost.get(str(bit), "not stated")
            return Translated(None, False, f"bit {bit} ({what}) has no counterpart")
        result |= 1 << int(there)
    says = f"bits matched by their texts: {value} is {result}"
    return Translated(str(result), True, says, is_word=True)
