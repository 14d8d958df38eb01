"""Unit texts, and exact factors between units. The only module that knows pint, and only when needed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache
from typing import Any

#: pi to 50 digits (OEIS A000796).
PI = Fraction("3.14159265358979323846264338327950288419716939937510")


@dataclass(frozen=True, slots=True)
class Scale:
    """``SI value = number * factor + offset`` in one dimension.

    Attributes
    ----------
    dimension
        A word that only compares: two units convert when it is the same.
    """

    dimension: str
    factor: Fraction
    offset: Fraction = Fraction(0)


_BASE: Mapping[str, Scale] = {
    "s": Scale("time", Fraction(1)),
    "min": Scale("time", Fraction(60)),
    "h": Scale("time", Fraction(3600)),
    "m": Scale("length", Fraction(1)),
    "in": Scale("length", Fraction(254, 10000)),  # exact: 25.4 mm
    "ft": Scale("length", Fraction(3048, 10000)),  # exact: 0.3048 m
    "g": Scale("mass", Fraction(1, 1000)),
    "rad": Scale("angle", Fraction(1)),
    "deg": Scale("angle", PI / 180),
    "turn": Scale("angle", PI * 2),
    "V": Scale("voltage", Fraction(1)),
    "A": Scale("current", Fraction(1)),
    "Ah": Scale("charge", Fraction(3600)),
    "W": Scale("power", Fraction(1)),
    "Wh": Scale("energy", Fraction(3600)),
    "J": Scale("energy", Fraction(1)),
    "Hz": Scale("frequency", Fraction(1)),
    "N": Scale("force", Fraction(1)),
    "Pa": Scale("pressure", Fraction(1)),
    "bar": Scale("pressure", Fraction(100000)),
    "T": Scale("flux density", Fraction(1)),
    "ohm": Scale("resistance", Fraction(1)),
    "K": Scale("temperature", Fraction(1)),
    "degC": Scale("temperature", Fraction(1), Fraction(27315, 100)),
    "1": Scale("number", Fraction(1)),
    "%": Scale("number", Fraction(1, 100)),
    "permille": Scale("number", Fraction(1, 1000)),
    "m/s": Scale("speed", Fraction(1)),
    "km/h": Scale("speed", Fraction(1000, 3600)),
    "kn": Scale("speed", Fraction(1852, 3600)),
    "m/s^2": Scale("acceleration", Fraction(1)),
    "gn": Scale("acceleration", Fraction(980665, 100000)),
    "rad/s": Scale("angular rate", Fraction(1)),
    "deg/s": Scale("angular rate", PI / 180),
    "rev/s": Scale("angular rate", PI * 2),
    "rpm": Scale("angular rate", PI / 30),
    "dB": Scale("level", Fraction(1)),
    "dBm": Scale("level above a milliwatt", Fraction(1)),
    "rad/s^2": Scale("angular acceleration", Fraction(1)),
    "deg/s^2": Scale("angular acceleration", PI / 180),
}

_PREFIXES: Mapping[str, Fraction] = {
    "k": Fraction(1000),
    "M": Fraction(10**6),
    "d": Fraction(1, 10),
    "c": Fraction(1, 100),
    "m": Fraction(1, 1000),
    "u": Fraction(1, 10**6),
    "n": Fraction(1, 10**9),
}
_PREFIXED = frozenset(
    {
        "s",
        "m",
        "g",
        "rad",
        "deg",
        "V",
        "A",
        "Ah",
        "W",
        "Wh",
        "J",
        "Hz",
        "N",
        "Pa",
        "bar",
        "T",
        "ohm",
        "m/s",
        "rad/s",
        "deg/s",
    }
)

#: Trade spellings (common practice, no source).
_SPELLINGS = {
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min",
    "hour": "h", "hours": "h", "hr": "h", "msec": "ms", "usec": "us", "millisecond": "ms",
    "milliseconds": "ms", "microseconds": "us", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "degree": "deg", "degrees": "deg", "°": "deg", "radian": "rad", "radians": "rad", "dps": "deg/s",
    "°/s": "deg/s", "degps": "deg/s", "volt": "V", "volts": "V", "v": "V", "amp": "A", "amps": "A", "a": "A",
    "mah": "mAh", "ah": "Ah", "watt": "W", "watts": "W", "hz": "Hz", "khz": "kHz", "hertz": "Hz",
    "percent": "%", "pct": "%", "‰": "permille", "c": "degC", "°c": "degC", "celsius": "degC",
    "kmh": "km/h", "kph": "km/h", "knots": "kn", "kt": "kn", "r/min": "rpm", "1/min": "rpm", "1/s": "Hz",
    "m/s2": "m/s^2", "m/s²": "m/s^2", "m/s/s": "m/s^2", "deg/s2": "deg/s^2", "deg/s/s": "deg/s^2",
    "rad/s2": "rad/s^2", "ratio": "1", "-": "1", "none": "1", "ω": "ohm", "norm": "1",
}  # fmt: skip

#: Things that are counted: each only converts to itself (common practice, no source).
_COUNTED = frozenset("bit byte cell count frame pole pulse sample step tick cycle channel motor".split())

_SCALED = re.compile(r"(?P<scale>\d+(?:\.\d+)?|\d+/\d+)\s*\*?\s*(?P<unit>[^\d\s].*)")
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
    text = text.strip().replace("µ", "u").replace("μ", "u").strip("[]()").strip()
    if not text or len(text) > 40:
        return None
    return _known(text) or _scaled(text) or _share(text) or _by_pint(text)


def _known(text: str) -> Scale | None:
    if text.casefold().removesuffix("s") in _COUNTED:
        return Scale(text.casefold().removesuffix("s"), Fraction(1))
    for word in (text, _SPELLINGS.get(text.casefold()), _SPELLINGS.get(text.casefold().rstrip("."))):
        if word is None:
            continue
        if word in _BASE:
            return _BASE[word]
        prefix, rest = word[:1], word[1:]
        rest = _SPELLINGS.get(rest.casefold(), rest)
        if prefix in _PREFIXES and rest in _PREFIXED:
            base = _BASE[rest]
            return Scale(base.dimension, base.factor * _PREFIXES[prefix])
    return None


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
    base = _known(unit.strip())
    if base is None or base.offset:
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
