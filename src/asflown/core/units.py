"""Unit texts, and exact factors between units. The only module that knows pint, and only when needed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache
from typing import Any

from asflown.core.unit_table import Scale, known

_SCALED = re.compile(r"(?P<scale>\d+/[1-9]\d*|\d+(?:\.\d+)?)\s*\*?\s*(?P<unit>[^\d\s].*)")
_DIVIDED = re.compile(r"(?P<unit>[^\d\s/]+)\s*/\s*(?P<by>10+)")
_PARTS = re.compile(r"(?P<part>tenths?|hundredths?|thousandths?)\s+(?:of\s+)?(?:an?\s+)?(?P<unit>\S+)", re.I)


@lru_cache(maxsize=4096)
def scale_of(text: str) -> Scale | None:
    """What a unit text means: dimension and exact factor to SI; ``None`` where it is not known.

    Understands SI prefixes, common trade spellings, and scaled units (``0.1 V``, ``V/10``,
    ``tenths of a volt``). Other units are looked up with pint.

    Examples
    --------
    >>> scale_of("tenths of a volt").factor, scale_of("cdeg") == scale_of("0.01 deg")
    (Fraction(1, 10), True)
    """
    text = _bare(text)
    if not text or len(text) > 40:
        return None
    return common_scale(text) or _by_pint(text)


@lru_cache(maxsize=4096)
def common_scale(text: str) -> Scale | None:
    """The same for the units and scaled units asflown knows by itself, which takes no time."""
    text = _bare(text)
    return (known(text) or _scaled(text) or _share(text)) if text and len(text) <= 40 else None


def _bare(text: str) -> str:
    return text.strip().replace("µ", "u").replace("μ", "u").strip("[]()").strip()


def _scaled(text: str) -> Scale | None:
    match = _PARTS.fullmatch(text)
    if match:
        share = {"t": 10, "h": 100}[match["part"][0].lower()] if match["part"][:2].lower() != "th" else 1000
        return _times(match["unit"], Fraction(1, share))
    match = _SCALED.fullmatch(text)
    if match:
        return _times(match["unit"], Fraction(match["scale"]))
    match = _DIVIDED.fullmatch(text)
    if match:
        return _times(match["unit"], Fraction(1, int(match["by"])))
    return None


def _share(text: str) -> Scale | None:
    """A bare share such as ``1/1000``."""
    match = re.fullmatch(r"1\s*/\s*(10{1,9})", text)
    return Scale("number", Fraction(1, int(match[1]))) if match else None


def _times(unit: str, factor: Fraction) -> Scale | None:
    base = known(unit.strip())
    if base is None or base.offset or factor == 0:
        return None
    return Scale(base.dimension, base.factor * factor)


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)


#: A word with at most one digit of power, then more of them; so nothing asks for a huge power.
_FACTOR = r"[A-Za-z%°][A-Za-z_%°]*(?:(?:\^|\*\*)?-?[0-9])?"
_FOR_PINT = re.compile(rf"{_FACTOR}(?:\s*[*/ ]\s*{_FACTOR})*")
#: Our dimension words by pint's, where a unit of the table and one that only pint knows may meet.
_PINT_DIMENSIONS = {
    "[time]": "time",
    "[length]": "length",
    "[mass]": "mass",
    "[current]": "current",
    "[temperature]": "temperature",
    "[length] [time]-1": "speed",
    "[length] [time]-2": "acceleration",
    "[length] [mass] [time]-2": "force",
    "[length]-1 [mass] [time]-2": "pressure",
    "[length]2 [mass] [time]-3": "power",
    "[length]2 [mass] [time]-2": "energy",
    "[current]-1 [length]2 [mass] [time]-3": "voltage",
    "[current]-2 [length]2 [mass] [time]-3": "resistance",
    "[current] [time]": "charge",
    "[current]-1 [mass] [time]-2": "flux density",
}
#: Angles have no dimension in pint, but a base unit; a frequency and an angular rate must not meet.
_PINT_UNITS = {
    "radian": "angle",
    "radian second-1": "angular rate",
    "radian second-2": "angular acceleration",
    "second-1": "frequency",
    "": "number",
}


def _by_pint(text: str) -> Scale | None:
    """The scale pint knows; ``None`` for what it does not."""
    if not _FOR_PINT.fullmatch(text):
        return None
    try:
        one = _registry().Quantity(Fraction(1), text).to_base_units()
        zero = _registry().Quantity(Fraction(0), text).to_base_units()
        unit, kind = _powers(one.unit_items()), _powers(one.dimensionality.items())
        word = _PINT_UNITS.get(unit) or _PINT_DIMENSIONS.get(kind) or f"{kind} {unit}"
        return Scale(word, Fraction(one.magnitude) - Fraction(zero.magnitude), Fraction(zero.magnitude))
    except Exception:  # pint raises many kinds for texts that are no units; each of them means: not known
        return None


def _powers(items: Iterable[tuple[str, Any]]) -> str:
    return " ".join(f"{name}{'' if power == 1 else power}" for name, power in sorted(items))


def dimension(unit: str) -> str | None:
    """The dimension word of a unit text, e.g. ``angular rate``; ``None`` where the unit is not known."""
    scale = scale_of(unit)
    return scale.dimension if scale else None


def factor_between(old: str, new: str) -> Decimal | None:
    """The factor from numbers in one unit to numbers in another, to 34 digits.

    Returns
    -------
    Decimal or None
        ``None`` when a unit is not known, the dimensions differ, or an offset is involved (use
        :func:`convert_unit`).

    Examples
    --------
    >>> factor_between("s", "ms"), factor_between("V", "deg")
    (Decimal('1000'), None)
    """
    pair = _pair(old, new)
    if pair is None or pair[0].offset != pair[1].offset or pair[0].offset:
        return None if pair is None or pair[0] != pair[1] else Decimal(1)
    return _decimal(pair[0].factor / pair[1].factor)


def convert_unit(value: Decimal, old: str, new: str) -> Decimal | None:
    """A number in another unit, offsets (degC, K) included; ``None`` when it does not convert."""
    pair = _pair(old, new)
    if pair is None:
        return None
    a, b = pair
    return _decimal((Fraction(value) * a.factor + a.offset - b.offset) / b.factor)


def is_exact(old: str, new: str) -> bool:
    """Whether the factor is a finite decimal (no pi, no third)."""
    pair = _pair(old, new)
    if pair is None:
        return False
    bottom = (pair[0].factor / pair[1].factor).denominator
    for prime in (2, 5):
        while bottom % prime == 0:
            bottom //= prime
    return bottom == 1


def _pair(old: str, new: str) -> tuple[Scale, Scale] | None:
    a, b = scale_of(old), scale_of(new)
    if a is None or b is None or a.dimension != b.dimension:
        return None
    return a, b


def _decimal(value: Fraction) -> Decimal:
    with localcontext() as context:
        context.prec = 34
        made = (Decimal(value.numerator) / Decimal(value.denominator)).normalize()
        if 0 <= made.adjusted() < context.prec and made == made.to_integral_value():
            made = made.quantize(Decimal(1))
    return made
