"""Values as text, as numbers, and as a device stores them. Exact: decimals, never binary floats."""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction
from functools import lru_cache

from asflown.core.catalog import ParameterDef, ValueKind

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_HEX = re.compile(r"([+-]?)0[xX]([0-9a-fA-F]{1,32})", re.ASCII)
_LONGEST = 400
#: The range of a 64-bit float (IEEE 754 binary64) with its denormals; no device prints a number beyond.
_WIDEST_EXPONENT = 330
#: Beyond this no device stores anything; such a number is left as it is (a range check refuses it).
_LARGEST_EXPONENT = 38

#: The least normal 32-bit float, and the power of two above which 32-bit floats may end (binary32).
_LEAST_NORMAL, _GREATEST_POWER = 2.0**-126, 2.0**127
#: What a 64-bit float holds below the last place of a 32-bit one, and the middle of that.
_BELOW_SINGLE, _MIDDLE = (1 << 29) - 1, 1 << 28

#: Type words of 32-bit floats, in lower case.
SINGLE_TYPES = frozenset({"float", "float32", "real32"})
#: Inclusive bounds of the integer type words of the open parameter metadata standard.
INTEGER_TYPES = {
    f"{'u' if low == 0 else ''}int{bits}": (Decimal(low), Decimal(high))
    for bits in (8, 16, 32, 64)
    for low, high in ((0, 2**bits - 1), (-(2 ** (bits - 1)), 2 ** (bits - 1) - 1))
}


def number(text: str) -> Decimal | None:
    """A text read as a number: integer, decimal, exponent or ``0x`` hexadecimal; ``None`` otherwise.

    Examples
    --------
    >>> number("1.50"), number("0x10"), number("1,5"), number("nan")
    (Decimal('1.50'), Decimal('16'), None, None)
    """
    text = text.strip()
    if len(text) > _LONGEST:
        return None
    if _NUMBER.fullmatch(text):
        read = Decimal(text)
        return read if abs(read.adjusted()) <= _WIDEST_EXPONENT else None
    match = _HEX.fullmatch(text)
    if match:
        value = Decimal(int(match[2], 16))
        return -value if match[1] == "-" else value
    return None


def plain_text(value: Decimal) -> str:
    """A decimal in plain notation without exponent; whole numbers without a point."""
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def quantum(parameter: ParameterDef | None) -> Decimal | None:
    """The least step the device stores, where a catalog states one."""
    if parameter is None:
        return None
    if parameter.increment and parameter.increment > 0:
        return parameter.increment
    if parameter.kind in (ValueKind.INTEGER, ValueKind.BITS, ValueKind.CHOICE, ValueKind.FLAG):
        return Decimal(1)
    if parameter.decimals is not None:
        return Decimal(1).scaleb(-parameter.decimals)
    return None


def rounded(value: Decimal, parameter: ParameterDef | None) -> Decimal:
    """A number at the precision the device stores, ties to even (IEEE 754 default rounding)."""
    if value.adjusted() > _LARGEST_EXPONENT:
        return value
    step = quantum(parameter)
    if step is not None:
        value = _to_step(value, step)
    if parameter is not None and (parameter.type or "").casefold() in SINGLE_TYPES:
        value = _shown_single(value, step)
    return value


def _to_step(value: Decimal, step: Decimal) -> Decimal:
    with localcontext() as context:
        context.prec = 120
        return (value / step).quantize(Decimal(1), rounding=ROUND_HALF_EVEN) * step


@lru_cache(maxsize=1 << 14)
def nearest_single(value: Decimal) -> Decimal:
    """The 32-bit float nearest to a number, exactly, rounded once and ties to even (IEEE 754 binary32).

    A number beyond the largest float comes back as it is.

    Examples
    --------
    >>> nearest_single(Decimal("0.1"))
    Decimal('0.100000001490116119384765625')
    """
    single = _by_double(value)
    return _by_fraction(value) if single is None else Decimal(single)


def _by_double(value: Decimal) -> float | None:
    """The nearest 32-bit float by way of a 64-bit one, ``None`` where that way might round twice.

    Rounding to 64 bits never passes the middle between two 32-bit floats, which is a 64-bit float itself.
    So the side is right unless the 64-bit float stands on such a middle: there its last 29 bits are a one
    and zeros (IEEE 754: 52 and 23 bits of fraction).
    """
    double = float(value)
    if not _LEAST_NORMAL <= abs(double) < _GREATEST_POWER:
        return None
    (bits,) = struct.unpack("<Q", struct.pack("<d", double))
    if bits & _BELOW_SINGLE == _MIDDLE:
        return None
    single: float = struct.unpack("<f", struct.pack("<f", double))[0]
    return single


def _by_fraction(value: Decimal) -> Decimal:
    exact = Fraction(value)
    if exact == 0 or value.adjusted() > _LARGEST_EXPONENT:
        return value
    top, bottom = abs(exact.numerator), exact.denominator
    exponent = top.bit_length() - bottom.bit_length()
    if Fraction(top, bottom) < Fraction(2) ** exponent:
        exponent -= 1
    last_place = Fraction(2) ** (max(exponent, -126) - 23)
    made = round(exact / last_place) * last_place  # round() of a fraction takes ties to even
    if abs(made) >= 2**128:
        return value
    with localcontext() as context:
        context.prec = 200  # a binary32 has at most 149 decimals
        return Decimal(made.numerator) / Decimal(made.denominator)


def _shown_single(value: Decimal, step: Decimal | None) -> Decimal:
    """A number as a 32-bit float, shown at the printed step, or with the fewest digits that name the float.

    Nine significant digits always do (IEEE 754-2019, 5.12.2; from memory).
    """
    single = nearest_single(value)
    if step is not None:
        return _to_step(single, step)
    return _shortest(single)


@lru_cache(maxsize=1 << 14)
def _shortest(single: Decimal) -> Decimal:
    """The number with the fewest digits that the same 32-bit float is nearest to."""
    for digits in range(1, 10):
        short = Decimal(f"{single:.{digits}g}")
        if nearest_single(short) == single:
            return short
    return single


def format_like(value: Decimal, parameter: ParameterDef | None, example: str | None = None) -> str:
    """A number as the device prints it: at its precision, with the decimals it states or an example shows."""
    value = rounded(value, parameter)
    decimals = parameter.decimals if parameter is not None else None
    if decimals is None and example is not None and "." in example and number(example) is not None:
        decimals = len(example.split(".")[1]) if "e" not in example.casefold() else None
    text = plain_text(value)
    if not decimals or (quantum(parameter) or 0) == 1:
        return text
    whole, _, part = text.partition(".")
    return text if len(part) >= decimals else f"{whole}.{part.ljust(decimals, '0')}"


def stored(text: str, parameter: ParameterDef) -> str | None:
    """The value as the device would store and print it; ``None`` when it cannot hold it at all.

    A text whose number is already what the device stores comes back as it is.
    """
    if parameter.choice_label(text) is not None or parameter.kind in (ValueKind.TEXT, ValueKind.UNKNOWN):
        return text
    value = number(text)
    if value is None:
        return text if parameter.kind in (ValueKind.CHOICE, ValueKind.FLAG) else None
    if rounded(value, parameter) == value:
        return text
    return format_like(value, parameter, text)


def same_value(a: str, b: str, parameter: ParameterDef | None = None) -> bool:
    """Whether two texts are one value at the precision the device stores.

    Numbers compare as numbers (``1.50`` is ``1.5``); words compare exactly; a choice's number and its
    text are the same choice.
    """
    if a == b:
        return True
    if parameter is not None and parameter.kind is ValueKind.TEXT:
        return False
    x, y = number(a), number(b)
    if x is not None and y is not None:
        return x == y or rounded(x, parameter) == rounded(y, parameter)
    if parameter is None or not (parameter.choices or parameter.plain_values):
        return False
    return _choice_value(a, parameter) == _choice_value(b, parameter) is not None


def _choice_value(text: str, parameter: ParameterDef) -> str | None:
    for choice in (*parameter.choices, *parameter.plain_values):
        if text == choice.value or text.casefold() == choice.label.casefold():
            return choice.value
    return None


@dataclass(frozen=True, slots=True)
class RangeFault:
    """Why a value is not allowed, and the nearest that is."""

    says: str
    nearest: str | None


def in_range(text: str, parameter: ParameterDef) -> RangeFault | None:
    """Check a value against the stated range, and an integer type's own bounds.

    Returns
    -------
    RangeFault or None
        ``None`` when it is allowed, when it is a plain value or a choice, or when no range is stated.
    """
    if parameter.choice_label(text) is not None or parameter.kind is ValueKind.TEXT:
        return None
    value = number(text)
    if value is None:
        if parameter.kind in (ValueKind.INTEGER, ValueKind.REAL, ValueKind.BITS):
            return RangeFault(f"'{text}' is no number, and {parameter.name} takes numbers", None)
        return None
    return out_of_range(value, parameter, text)


def out_of_range(value: Decimal, parameter: ParameterDef, shown: str | None = None) -> RangeFault | None:
    """Check a number against the stated range and an integer type's own bounds.

    Parameters
    ----------
    shown
        How the number is written in the sentence; in plain notation when not given.
    """
    low, high = _bounds(parameter)
    unit = f" {parameter.unit}" if parameter.unit else ""
    if low is not None and value < low:
        says = f"{shown or plain_text(value)} is below the least allowed, {plain_text(low)}{unit}"
        return RangeFault(says, _nearest(low, parameter, inward=1))
    if high is not None and value > high:
        says = f"{shown or plain_text(value)} is above the most allowed, {plain_text(high)}{unit}"
        return RangeFault(says, _nearest(high, parameter, inward=-1))
    return None


def _nearest(bound: Decimal, parameter: ParameterDef, *, inward: int) -> str:
    """The number nearest to a bound that the device stores, never outside of it."""
    held = rounded(bound, parameter)
    step = quantum(parameter)
    if step is not None and (held - bound) * inward < 0:
        held += inward * step
    return format_like(held, parameter, parameter.default)


def _bounds(parameter: ParameterDef) -> tuple[Decimal | None, Decimal | None]:
    """The narrower of the stated range and the integer type's bounds."""
    low, high = parameter.minimum, parameter.maximum
    own = INTEGER_TYPES.get((parameter.type or "").casefold())
    if own is None:
        return low, high
    return max(own[0], low) if low is not None else own[0], min(own[1], high) if high is not None else own[1]
