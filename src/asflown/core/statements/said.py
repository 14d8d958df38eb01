"""What a setting says, whatever its number, unit and scale: an amount, words, or nothing and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from asflown.core import roles
from asflown.core.catalog import ParameterDef, ValueKind
from asflown.core.roles import RoleTexts
from asflown.core.unit_table import known
from asflown.core.units import dimension
from asflown.core.values import number, quantum

#: Two amounts this close, as a share of the larger, are one 32-bit float (IEEE 754 binary32: 24 bits).
_SINGLE = Fraction(1, 2**23)
_ON = {
    "on": "on",
    "yes": "on",
    "true": "on",
    "1": "on",
    "off": "off",
    "no": "off",
    "false": "off",
    "0": "off",
}


@dataclass(frozen=True, slots=True)
class Amount:
    """A physical amount.

    Attributes
    ----------
    value
        In SI, exact.
    step
        What the device stores it in steps of, SI; 0 where that is not stated.
    dimension
        As `asflown.core.units` names it; ``None`` where only a factor to SI is stated.
    made_of
        Amount and count it was reckoned from, where no setting says it directly.
    """

    value: Fraction
    step: Fraction = Fraction(0)
    dimension: str | None = None
    made_of: tuple[Fraction, Fraction] | None = None

    def is_same(self, other: Said) -> bool:
        """Whether the other is the same amount, as near as the finer of both is stored."""
        if not isinstance(other, Amount):
            return False
        apart = abs(self.value - other.value)
        largest = max(abs(self.value), abs(other.value))
        return apart <= max(min(self.step, other.step) / 2, _SINGLE * largest)


@dataclass(frozen=True, slots=True)
class Words:
    """The catalog's words: of a choice or of a number that is a word; or every word of a set of bits."""

    words: tuple[str, ...]
    is_set: bool = False

    def is_same(self, other: Said) -> bool:
        """Whether the other says the same words, in whatever order and case."""
        return isinstance(other, Words) and self._folded() == other._folded()

    def _folded(self) -> frozenset[str]:
        return frozenset(" ".join(word.casefold().split()) for word in self.words)

    def without(self, other: Words) -> tuple[str, ...]:
        """The words that the other does not have."""
        return tuple(word for word in self.words if not Words((word,))._folded() <= other._folded())


class Silence(StrEnum):
    """Why nothing is said."""

    NO_SETTING = "no setting"
    NO_CATALOG = "no catalog"
    NOT_READ = "not read"
    TO_DECIDE = "to decide"


@dataclass(frozen=True, slots=True)
class NotStated:
    """Nothing is said.

    Attributes
    ----------
    reason
        Why, in words.
    silence
        Whether the release has no such setting, nothing is known of the release, what the setting says
        could not be read, or it is still to be decided.
    """

    reason: str
    silence: Silence = Silence.NOT_READ


Said = Amount | Words | NotStated


def said_by(told: RoleTexts, unit: str | None) -> Said:
    """What the settings of one role say.

    Parameters
    ----------
    unit
        The unit it is told in, with whose dimension the catalog's must agree; ``None`` for any.
    """
    if not told.texts:
        return NotStated(f"{_names(told.parameters)} is not in the settings")
    every = [_one(parameter, text, unit) for parameter, text in told.texts]
    first = every[0]
    if all(isinstance(first, Amount | Words) and first.is_same(other) for other in every[1:]):
        return first
    nothing = next((one for one in every if isinstance(one, NotStated)), None)
    if nothing is not None:
        return nothing
    several = ", ".join(dict.fromkeys(text for _, text in told.texts))
    return NotStated(f"{_names(told.parameters)} says {several}; nothing says which of them is in use")


def _names(parameters: Sequence[ParameterDef]) -> str:
    return ", ".join(parameter.name for parameter in parameters)


def _one(parameter: ParameterDef, text: str, unit: str | None) -> Said:
    if parameter.kind is ValueKind.BITS or parameter.bits:
        return _bits(parameter, text)
    choice = roles.choice_of(parameter, text)
    if choice is not None:
        return Words((choice.label,))
    if parameter.kind is ValueKind.FLAG and text.casefold() in _ON:
        return Words((_ON[text.casefold()],))
    if parameter.kind is ValueKind.TEXT:
        return Words((text,))
    if parameter.kind in (ValueKind.CHOICE, ValueKind.FLAG):
        return NotStated(f"{parameter.name} is {text}, and the catalog does not say what that means")
    return _amount(parameter, text, unit)


def _bits(parameter: ParameterDef, text: str) -> Said:
    value = number(text)
    if value is None or value < 0 or value != value.to_integral_value():
        return NotStated(f"{parameter.name} is '{text}', no set of bits")
    labels = {int(bit.value): bit.label for bit in parameter.bits if bit.value.isdecimal()}
    whole = int(value)
    on = [place for place in range(whole.bit_length()) if whole >> place & 1]
    return Words(tuple(sorted(labels.get(place, f"bit {place}") for place in on)), is_set=True)


def _amount(parameter: ParameterDef, text: str, unit: str | None) -> Said:
    exact = number(text)
    if exact is None:
        return NotStated(f"{parameter.name} is '{text}', no number")
    factor = roles.factor_of(parameter)
    stated = dimension(parameter.unit) if parameter.unit and not parameter.unit_from else None
    if factor is None and not parameter.unit and unit == "":
        factor = Fraction(1)
    if factor is None:
        return NotStated(f"neither factor nor unit says what {parameter.name} is in SI")
    wanted = known(unit or "1") if unit is not None else None
    if unit and wanted is not None and stated is not None and stated != wanted.dimension:
        return NotStated(f"{parameter.name} is in {parameter.unit}, which is no {wanted.dimension}")
    step = quantum(parameter)
    return Amount(Fraction(exact) * factor, abs(Fraction(step or 0) * factor), stated)
