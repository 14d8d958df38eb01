"""What the settings say, by role: numbers in SI whatever the firmware's names and units are."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from asflown.core.catalog import Catalog, Choice, ParameterDef, ValueKind
from asflown.core.record import Extent, Key, Record
from asflown.core.values import number


@dataclass(frozen=True)
class RoleValues:
    """Settings by what they mean.

    Attributes
    ----------
    values
        Number in SI by role (frequencies in Hz). Words among numbers (0 = off) and choices are not in it.
    stored
        Number as it is stored, by role, words and choices too.
    unusable
        Role to why it has no number in SI, in words.
    """

    values: Mapping[str, float] = field(default_factory=dict)
    stored: Mapping[str, float] = field(default_factory=dict)
    unusable: Mapping[str, str] = field(default_factory=dict)


def values_by_role(
    settings: Mapping[Key, str],
    catalog: Catalog,
    *,
    banks: Iterable[str] = (),
    factory: bool = False,
) -> RoleValues:
    """Read settings by the roles a catalog gives them.

    Parameters
    ----------
    settings
        Value by key, as the firmware prints it (``Record.values``).
    banks
        The banks that are active. Where none of a parameter's banks is, it has a number only if they all
        agree.
    factory
        Whether a setting that is not there has its factory value (a listing of changes alone).

    Returns
    -------
    RoleValues
        A role that two parameters have, or several indexes of one, has no number unless all agree.
    """
    values: dict[str, float] = {}
    stored: dict[str, float] = {}
    unusable: dict[str, str] = {}
    for role, told in texts_by_role(settings, catalog, banks=banks, factory=factory).items():
        try:
            read = [_read(parameter, text) for parameter, text in told.texts]
            stored[role], said = _one(role, told.parameters, read)
        except ValueError as error:
            unusable[role] = str(error)
            continue
        if isinstance(said, float):
            values[role] = said
        else:
            unusable[role] = said
    return RoleValues(values, stored, unusable)


@dataclass(frozen=True, slots=True)
class RoleTexts:
    """The parameters that have one role, and what the settings say of them.

    Attributes
    ----------
    texts
        Parameter and value as printed, each pair once; of the banks in use where any is.
    """

    parameters: tuple[ParameterDef, ...]
    texts: tuple[tuple[ParameterDef, str], ...]


def texts_by_role(
    settings: Mapping[Key, str],
    catalog: Catalog,
    *,
    banks: Iterable[str] = (),
    factory: bool = False,
) -> dict[str, RoleTexts]:
    """Every role of a catalog with the settings' own texts; the parameters are those of `values_by_role`."""
    active = frozenset(banks)
    named: dict[str, list[ParameterDef]] = {}
    for parameter in catalog.parameters:
        if parameter.role:
            named.setdefault(parameter.role, []).append(parameter)
    made: dict[str, RoleTexts] = {}
    for role, parameters in named.items():
        texts = {
            (parameter.name, text): (parameter, text)
            for parameter in parameters
            for text in _texts(parameter, settings, catalog, active, factory)
        }
        made[role] = RoleTexts(tuple(parameters), tuple(texts.values()))
    return made


def of_record(record: Record, catalog: Catalog) -> RoleValues:
    """Read a record by the roles of its release's catalog, with the banks that were active in it."""
    return values_by_role(
        record.values,
        catalog,
        banks=active_banks(record, catalog),
        factory=record.extent is Extent.CHANGES_ONLY,
    )


def active_banks(record: Record, catalog: Catalog) -> Iterator[str]:
    """Names of active banks: the selector's choice, or the selector and its choice, as the catalog has it."""
    known = {bank for parameter in catalog.parameters for bank in parameter.banks}
    known |= {key.bank for key in record.values if key.bank is not None}
    for word, choice in record.active_banks.items():
        for bank in (choice, f"{word} {choice}", f"{word}{choice}"):
            if bank in known:
                yield bank
                break


def _texts(
    parameter: ParameterDef,
    settings: Mapping[Key, str],
    catalog: Catalog,
    active: frozenset[str],
    factory: bool,
) -> Iterator[str]:
    keys = parameter.keys()
    in_use = [key for key in keys if key.bank in active]
    for key in in_use or keys:
        text = settings.get(key)
        if text is None and factory:
            text = catalog.factory_value(key)
        if text is not None:
            yield text


Read = tuple[float, float | str]


def _one(role: str, parameters: Sequence[ParameterDef], read: list[Read]) -> Read:
    names = ", ".join(parameter.name for parameter in parameters)
    if not read:
        raise ValueError(f"{names} is not in the settings")
    if len(set(read)) > 1:
        several = ", ".join(f"{one:g}" for one in dict.fromkeys(stored for stored, _ in read))
        raise ValueError(f"{names} says {several}; nothing says which of them is in use")
    return read[0]


def _read(parameter: ParameterDef, text: str) -> Read:
    """The number as stored, and in SI or why there is none.

    Raises
    ------
    ValueError
        When it is no number at all.
    """
    choice = choice_of(parameter, text)
    exact = number(text if choice is None else choice.value)
    if exact is None or not math.isfinite(float(exact)):
        raise ValueError(f"{parameter.name} is '{text}', no number")
    stored = float(exact)
    if choice is not None or parameter.kind in (ValueKind.CHOICE, ValueKind.FLAG, ValueKind.BITS):
        label = f" ({choice.label})" if choice is not None and choice.label != text else ""
        return stored, f"{parameter.name} is {text}{label}, a word and not a number"
    factor = factor_of(parameter)
    if factor is None:
        return stored, f"neither factor nor unit says what {parameter.name} is in SI"
    return stored, float(Fraction(exact) * factor)


def choice_of(parameter: ParameterDef, text: str) -> Choice | None:
    """The choice or plain value a text is, by its value (``0.00`` is ``0``) or its label."""
    value = number(text)
    for choice in (*parameter.choices, *parameter.plain_values):
        if text.casefold() in (choice.value.casefold(), choice.label.casefold()):
            return choice
        if value is not None and number(choice.value) == value:
            return choice
    return None


def factor_of(parameter: ParameterDef) -> Fraction | None:
    """From the number as stored to the role's SI unit; ``None`` where neither factor nor unit says it."""
    if parameter.factor is not None:
        return Fraction(parameter.factor)
    if not parameter.unit or parameter.unit_from:
        return None
    from asflown.core.units import scale_of

    scale = scale_of(parameter.unit)
    return None if scale is None or scale.offset else scale.factor
