"""Old values to new ones: exact, never clipped, and saying what is lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, localcontext

from asflown.core.catalog import Choice, ConversionSpec, ParameterDef, ValueKind
from asflown.core.expression import parse
from asflown.core.units import convert_unit
from asflown.core.values import (
    RangeFault,
    format_like,
    in_range,
    number,
    out_of_range,
    plain_text,
    quantum,
    rounded,
)
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
    old_defs: Sequence[ParameterDef] = (),
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
    old_defs
        The old parameters of a merge: none of them may hold a value that is a word.

    Returns
    -------
    Converted
        Checked against the new parameter's range and precision; never clipped.
    """
    text = next(iter(old.values()), "")
    if spec.choices:
        return _checked_text(_chosen(spec, text), new)
    word = _word(old, old_defs) if len(old) > 1 else _by_meaning(spec, text, old_def, new)
    if word is not None:
        return word
    if spec.expressions:
        return _expression(spec, old, new, new_name, text)
    if spec.is_copy:
        return _checked_text(Converted(text, True, "copied"), new)
    value = number(text)
    if value is None:
        return _refused(f"'{text}' is no number and cannot be scaled")
    made, how = _scaled(spec, value)
    if made is None:
        return _refused(how)
    return _fitted(made, value, text, new, old_def, spec, how)


def _refused(says: str, nearest: str | None = None) -> Converted:
    return Converted(None, False, says, Problem(says, nearest))


def _word(old: Mapping[str, str], old_defs: Sequence[ParameterDef]) -> Converted | None:
    """Several values go into one: refused when one of them is a word (off, automatic)."""
    for definition in old_defs:
        text = old.get(definition.name)
        for plain in definition.plain_values:
            if text is not None and (text == plain.value or _same_number(text, plain.value)):
                return _refused(f"{definition.name} is {text}, which means '{plain.label}', not a number")
    return None


def _same_number(a: str, b: str) -> bool:
    x = number(a)
    return x is not None and x == number(b)


def _by_meaning(
    spec: ConversionSpec, text: str, old_def: ParameterDef | None, new: ParameterDef | None
) -> Converted | None:
    """A value that is a word is matched by its meaning; numbered slots and bits are never scaled."""
    if old_def is None:
        return None
    words = (*old_def.plain_values, *(() if spec.is_copy else old_def.choices))
    meant = next((c for c in words if c.value == text or _same_number(c.value, text)), None)
    if meant is not None:
        return _with_meaning(text, meant, new)
    if spec.is_copy or spec.expressions:
        return None
    if old_def.slots or old_def.kind in (ValueKind.BITS, ValueKind.CHOICE, ValueKind.FLAG):
        what = "a numbered slot" if old_def.slots else f"one of its {old_def.kind}"
        return _refused(f"{text} is {what} of {old_def.name} and is never scaled")
    return None


def _with_meaning(text: str, meant: Choice, new: ParameterDef | None) -> Converted:
    if new is None:
        return Converted(text, True, f"{text} means '{meant.label}' and is not scaled")
    for choice in (*new.plain_values, *new.choices):
        if choice.label.casefold() == meant.label.casefold():
            return Converted(choice.value, True, f"'{meant.label}' was {text}, is {choice.value}")
    return _refused(f"{text} means '{meant.label}', and the new release states no value for that")


def _chosen(spec: ConversionSpec, text: str) -> Converted:
    if text in spec.choices:
        return Converted(spec.choices[text], True, f"{text} is {spec.choices[text]} now")
    value = number(text)
    for before, after in spec.choices.items():
        if value is not None and number(before) == value:
            return Converted(after, True, f"{text} is {after} now")
    return _refused(f"the note has no counterpart for {text} (it has {', '.join(spec.choices)})")


def _checked_text(result: Converted, new: ParameterDef | None) -> Converted:
    if new is None or result.value is None:
        return result
    fault = _not_a_choice(result.value, new) or in_range(result.value, new)
    if fault is None:
        return result
    return replace(result, value=None, exact=False, problem=Problem(fault.says, fault.nearest))


def _not_a_choice(text: str, new: ParameterDef) -> RangeFault | None:
    if new.kind not in (ValueKind.CHOICE, ValueKind.FLAG) or not new.choices:
        return None
    if any(
        text in (choice.value, choice.label) or _same_number(text, choice.value) for choice in new.choices
    ):
        return None
    allowed = ", ".join(f"{choice.value} ({choice.label})" for choice in new.choices)
    return RangeFault(f"{text} is none of the choices {allowed}", None)


def _expression(
    spec: ConversionSpec, old: Mapping[str, str], new: ParameterDef | None, new_name: str, text: str
) -> Converted:
    written = spec.expressions.get(new_name)
    if written is None:
        return _checked_text(Converted(text, True, "copied"), new)
    values = {name: value for name, t in old.items() if (value := number(t)) is not None}
    words = [f"{name} is '{t}', no number" for name, t in old.items() if name not in values]
    if words:
        return _refused("; ".join(words))
    if len(values) == 1:
        values.setdefault("old", next(iter(values.values())))
    try:
        made = parse(written).evaluate(values)
    except InputError as error:
        return _refused(error.what)
    return _fitted(made, None, text, new, None, spec, f"{written} = {_short(made)}")


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
    fault = out_of_range(made, new, _short(made))
    if fault is not None:
        return Converted(None, False, how, Problem(f"{how}; {fault.says}", fault.nearest))
    kept = rounded(made if quantum(new) is not None else _nine(made), new)
    held = format_like(kept, new, new.default)
    fault = out_of_range(kept, new, held)
    if fault is not None:
        return Converted(None, False, how, Problem(f"{how}, stored as {held}; {fault.says}", fault.nearest))
    meant = next((c.label for c in new.plain_values if number(c.value) == kept), None)
    if meant is not None and value is None and kept == made:
        return Converted(held, True, f"{how}, which means '{meant}'")  # the note's own arithmetic says so
    if meant is not None:
        return _refused(f"{how}, but {held} means '{meant}' in the new release")
    lost = _lost(kept, value, old_def, spec, text)
    if lost is not None:
        return Converted(held, False, f"{how}, stored as {held}; {lost}")
    if value is None and kept != made:
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
    written = number(text) or Decimal(0)
    exponent = min(int(written.as_tuple().exponent), 0)
    with localcontext() as context:
        context.prec = 800  # every double written out, and its decimals
        return value.quantize(Decimal(1).scaleb(exponent))


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
