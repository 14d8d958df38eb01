"""Old values to new ones: exact, never clipped, and saying what is lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, localcontext

from asflown.core.catalog import ConversionSpec, ParameterDef
from asflown.core.expression import parse
from asflown.core.units import convert_unit
from asflown.core.values import format_like, in_range, number, plain_text, quantum, rounded
from asflown.errors import InputError


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a value cannot be carried, and the nearest allowed one where there is one."""

    says: str
    nearest: str | None = None


@dataclass(frozen=True, slots=True)
class Converted:
    """The result of one conversion.

    Attributes
    ----------
    value
        As the new device stores it; ``None`` when nothing can be left there.
    exact
        Whether converting back at the old precision gives the old value.
    says
        What was done, and what is lost where something is.
    """

    value: str | None
    exact: bool
    says: str
    problem: Problem | None = None


def convert(
    spec: ConversionSpec,
    old: Mapping[str, str],
    new: ParameterDef | None,
    *,
    old_def: ParameterDef | None,
    new_name: str,
) -> Converted:
    """Convert the values of one or several old settings into one new setting.

    Parameters
    ----------
    spec
        How; a spec with nothing set copies.
    old
        Values by old name, as text.
    new
        The new parameter; ``None`` for a release in between of which no catalog is known.
    old_def
        The old parameter where there is just one: its plain values are matched by meaning, never scaled.
    new_name
        Which new name is wanted (a split has an expression for each).

    Returns
    -------
    Converted
        Checked against the new parameter's range and precision; never clipped.
    """
    text = next(iter(old.values()), "")
    plain = _plain(text, old_def, new) if len(old) == 1 and not spec.choices else None
    if plain is not None:
        return plain
    if spec.choices:
        return _checked_text(_chosen(spec, text), new)
    if spec.expressions:
        return _expression(spec, old, new, new_name, text)
    if spec.factor is None and spec.unit_to is None:
        return _checked_text(Converted(text, True, "copied"), new)
    value = number(text)
    if value is None:
        says = f"'{text}' is no number and cannot be scaled"
        return Converted(None, False, says, Problem(says))
    made, how = _scaled(spec, value)
    if made is None:
        return Converted(None, False, how, Problem(how))
    return _fitted(made, value, text, new, old_def, spec, how)


def _plain(text: str, old_def: ParameterDef | None, new: ParameterDef | None) -> Converted | None:
    """A value that is a word (off, automatic) is matched by its meaning."""
    meant = next((c for c in (old_def.plain_values if old_def else ()) if c.value == text), None)
    if meant is None:
        return None
    if new is None:
        return Converted(text, True, f"{text} means '{meant.label}' and is not scaled")
    for choice in (*new.plain_values, *new.choices):
        if choice.label.casefold() == meant.label.casefold():
            return Converted(choice.value, True, f"'{meant.label}' was {text}, is {choice.value}")
    says = f"{text} means '{meant.label}', and the new release states no value for that"
    return Converted(None, False, says, Problem(says))


def _chosen(spec: ConversionSpec, text: str) -> Converted:
    if text in spec.choices:
        return Converted(spec.choices[text], True, f"{text} is {spec.choices[text]} now")
    value = number(text)
    for before, after in spec.choices.items():
        if value is not None and number(before) == value:
            return Converted(after, True, f"{text} is {after} now")
    says = f"the note has no counterpart for {text} (it has {', '.join(spec.choices)})"
    return Converted(None, False, says, Problem(says))


def _checked_text(result: Converted, new: ParameterDef | None) -> Converted:
    if new is None or result.value is None:
        return result
    fault = in_range(result.value, new)
    if fault is None:
        return result
    return replace(result, value=None, exact=False, problem=Problem(fault.says, fault.nearest))


def _expression(
    spec: ConversionSpec, old: Mapping[str, str], new: ParameterDef | None, new_name: str, text: str
) -> Converted:
    written = spec.expressions.get(new_name)
    if written is None:
        return _checked_text(Converted(text, True, "copied"), new)
    values = {name: value for name, t in old.items() if (value := number(t)) is not None}
    if len(old) == 1 and values:
        values.setdefault("old", next(iter(values.values())))
    try:
        made = parse(written).evaluate(values)
    except InputError as error:
        return Converted(None, False, error.what, Problem(error.what))
    return _fitted(made, None, text, new, None, spec, f"{written} = {plain_text(made)}")


def _scaled(spec: ConversionSpec, value: Decimal) -> tuple[Decimal | None, str]:
    if spec.unit_to is not None:
        made = convert_unit(value, spec.unit_from or "", spec.unit_to)
        if made is None:
            return None, f"{spec.unit_from} does not convert to {spec.unit_to}"
        return made, f"{plain_text(value)} {spec.unit_from} is {_short(made)} {spec.unit_to}"
    with localcontext() as context:
        context.prec = 40
        made = value * (spec.factor or Decimal(1)) + spec.offset
    offset = f" + {spec.offset}" if spec.offset else ""
    return made, f"{plain_text(value)} * {_short(spec.factor or Decimal(1))}{offset} = {_short(made)}"


def _short(value: Decimal) -> str:
    """At most nine significant digits, for people."""
    with localcontext() as context:
        context.prec = 9
        return plain_text(+value)


def _fitted(
    made: Decimal,
    value: Decimal | None,
    text: str,
    new: ParameterDef | None,
    old_def: ParameterDef | None,
    spec: ConversionSpec,
    how: str,
) -> Converted:
    """The number as the new parameter holds it, and what converting back gives."""
    if new is None:
        return Converted(plain_text(made), True, how)
    fault = in_range(plain_text(made), new)
    if fault is not None:
        return Converted(None, False, how, Problem(f"{how}; {fault.says}", fault.nearest))
    held = format_like(made if quantum(new) is not None else _nine(made), new, text)
    meant = next((c.label for c in new.plain_values if number(c.value) == number(held)), None)
    if meant is not None and value is not None:
        says = f"{how}, but {held} means '{meant}' in the new release"
        return Converted(None, False, says, Problem(says))
    kept = number(held)
    lost = _lost(kept, value, old_def, spec, text) if kept is not None else None
    if lost is not None:
        return Converted(held, False, f"{how}, stored as {held}; {lost}")
    if value is None and kept is not None and kept != made:
        return Converted(held, False, f"{how}, stored as {held}")
    return Converted(held, True, how)


def _nine(value: Decimal) -> Decimal:
    """Where no precision is stated: nine significant digits, all a 32-bit float can tell apart (IEEE 754)."""
    with localcontext() as context:
        context.prec = 9
        return +value


def _lost(
    kept: Decimal, value: Decimal | None, old_def: ParameterDef | None, spec: ConversionSpec, text: str
) -> str | None:
    """What converting back does not give again, in words."""
    back_spec = invert(spec)
    if value is None or back_spec is None:
        return None
    back, _ = _scaled(back_spec, kept)
    if back is None:
        return None
    seen = _at_precision(back, old_def, text)
    return None if seen == value else f"converted back it is {plain_text(seen)}, not {text}"


def _at_precision(value: Decimal, old_def: ParameterDef | None, text: str) -> Decimal:
    """A number at the old device's precision: the stated one, or that of the text as found."""
    if quantum(old_def) is not None:
        return rounded(value, old_def)
    decimals = len(text.split(".")[1]) if "." in text and "e" not in text.casefold() else 0
    with localcontext() as context:
        context.prec = 60
        return value.quantize(Decimal(1).scaleb(-decimals))


def invert(spec: ConversionSpec) -> ConversionSpec | None:
    """The way back; ``None`` where there is none (expressions, choices that fall together, factor 0)."""
    if spec.expressions:
        return None
    if spec.choices:
        back = {new: old for old, new in spec.choices.items()}
        return replace(spec, choices=back) if len(back) == len(spec.choices) else None
    if spec.unit_to is not None:
        return replace(spec, unit_from=spec.unit_to, unit_to=spec.unit_from)
    if spec.factor is None:
        return spec
    if spec.factor == 0:
        return None
    with localcontext() as context:
        context.prec = 40
        return replace(spec, factor=1 / spec.factor, offset=-spec.offset / spec.factor)
