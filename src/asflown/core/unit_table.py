"""The units and spellings asflown knows by itself, exactly; any other is asked of pint by `core/units`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

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


BASE: Mapping[str, Scale] = {
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

PREFIXES: Mapping[str, Fraction] = {
    "k": Fraction(1000),
    "M": Fraction(10**6),
    "d": Fraction(1, 10),
    "c": Fraction(1, 100),
    "m": Fraction(1, 1000),
    "u": Fraction(1, 10**6),
    "n": Fraction(1, 10**9),
}
PREFIXED = frozenset(
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
_COUNTED = frozenset(
    {
        "bit",
        "byte",
        "cell",
        "count",
        "frame",
        "pole",
        "pulse",
        "sample",
        "step",
        "tick",
        "cycle",
        "channel",
        "motor",
    }
)


def known(text: str) -> Scale | None:
    """What a unit word of the table, a trade spelling or a prefixed unit means; ``None`` for any other."""
    if text.casefold().removesuffix("s") in _COUNTED:
        return Scale(text.casefold().removesuffix("s"), Fraction(1))
    for word in (text, _SPELLINGS.get(text.casefold()), _SPELLINGS.get(text.casefold().rstrip("."))):
        if word is None:
            continue
        if word in BASE:
            return BASE[word]
        prefix, rest = word[:1], word[1:]
        rest = _SPELLINGS.get(rest.casefold(), rest)
        if prefix in PREFIXES and rest in PREFIXED:
            base = BASE[rest]
            return Scale(base.dimension, base.factor * PREFIXES[prefix])
    return None
