"""The units a log may hold each kind of number in.

``value = (number - offset) * factor`` as in :class:`asflown.core.layout.Assignment`. The lists are common
practice in logs, no source; the factors are exact or from ``core/unit_table``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from asflown.core.columns.kinds import Kind
from asflown.core.columns.spellings import trade_word
from asflown.core.units import common_scale

#: Standard acceleration of free fall, m/s2 (3rd CGPM 1901; ISO 80000-3).
FREE_FALL = 9.80665
DEGREE = math.pi / 180


@dataclass(frozen=True, slots=True)
class LogUnit:
    """One unit a kind may be logged in.

    Attributes
    ----------
    word
        In words of the trade, as a layout keeps it.
    is_known
        Whether the factor is known; not for raw counts of unknown scale and electrical speed without poles.
    """

    word: str
    factor: float = 1.0
    offset: float = 0.0
    is_known: bool = True


def _units(*pairs: tuple[str, float]) -> tuple[LogUnit, ...]:
    return tuple(LogUnit(word, factor) for word, factor in pairs)


def span_unit(low: float, high: float, kind: Kind, suffix: str = "") -> LogUnit:
    """The unit of a command that runs from ``low`` to ``high``: ``1000..2000 us``."""
    word = f"{low:g}..{high:g}{' ' + suffix if suffix else ''}"
    if kind is Kind.SHARE:
        return LogUnit(word, 1 / (high - low), low)
    return LogUnit(word, 2 / (high - low), (low + high) / 2)


#: The units proposed for each kind, the plainest first.
UNITS: dict[Kind, tuple[LogUnit, ...]] = {
    Kind.TIME: (
        *_units(("s", 1), ("ms", 1e-3), ("us", 1e-6), ("ns", 1e-9), ("min", 60.0)),
        LogUnit("date and time"),
        LogUnit("time of day"),
    ),
    Kind.RATE: (
        *_units(
            ("rad/s", 1),
            ("deg/s", DEGREE),
            ("mrad/s", 1e-3),
            ("mdeg/s", DEGREE / 1e3),
            ("0.01 deg/s", DEGREE / 100),
            ("0.1 deg/s", DEGREE / 10),
            ("rev/s", 2 * math.pi),
            ("rpm", math.pi / 30),
        ),
        LogUnit("raw counts", is_known=False),
    ),
    Kind.ACCELERATION: (
        *_units(
            ("m/s2", 1),
            ("g", FREE_FALL),
            ("mg", FREE_FALL / 1e3),
            ("cm/s2", 1e-2),
            ("mm/s2", 1e-3),
            ("ft/s2", 0.3048),
        ),
        LogUnit("raw counts", is_known=False),
    ),
    Kind.SHARE: (
        LogUnit("0..1"),
        span_unit(0, 100, Kind.SHARE, "%"),
        span_unit(1000, 2000, Kind.SHARE, "us"),
        span_unit(0, 1000, Kind.SHARE),
        span_unit(0, 255, Kind.SHARE),
        span_unit(0, 1023, Kind.SHARE),
        span_unit(0, 2047, Kind.SHARE),
        span_unit(0, 4095, Kind.SHARE),
        span_unit(0, 10000, Kind.SHARE),
        span_unit(0, 65535, Kind.SHARE),
        span_unit(-1, 1, Kind.SHARE),
    ),
    Kind.STICK: (
        LogUnit("-1..1"),
        span_unit(1000, 2000, Kind.STICK, "us"),
        span_unit(-500, 500, Kind.STICK),
        span_unit(-100, 100, Kind.STICK, "%"),
        span_unit(-1000, 1000, Kind.STICK),
        span_unit(0, 1, Kind.STICK),
        span_unit(0, 100, Kind.STICK, "%"),
        span_unit(0, 1000, Kind.STICK),
        span_unit(0, 2047, Kind.STICK),
    ),
    Kind.CONTROL: (
        LogUnit("-1..1"),
        LogUnit("own scale"),
        span_unit(-100, 100, Kind.CONTROL, "%"),
        span_unit(-500, 500, Kind.CONTROL),
        span_unit(-1000, 1000, Kind.CONTROL),
    ),
    Kind.ROTOR: (
        *_units(("rev/s", 1), ("rpm", 1 / 60), ("rad/s", 1 / (2 * math.pi)), ("100 rpm", 100 / 60)),
        LogUnit("electrical rpm", 1 / 60, is_known=False),
    ),
    Kind.VOLTAGE: _units(("V", 1), ("mV", 1e-3), ("0.01 V", 1e-2), ("0.1 V", 0.1)),
    Kind.CURRENT: _units(("A", 1), ("mA", 1e-3), ("0.01 A", 1e-2), ("0.1 A", 0.1)),
    Kind.ANGLE: _units(
        ("rad", 1), ("deg", DEGREE), ("0.1 deg", DEGREE / 10), ("0.01 deg", DEGREE / 100), ("mrad", 1e-3)
    ),
    Kind.LENGTH: _units(("m", 1), ("cm", 1e-2), ("mm", 1e-3), ("ft", 0.3048), ("km", 1e3)),
    Kind.SPEED: _units(
        ("m/s", 1), ("cm/s", 1e-2), ("mm/s", 1e-3), ("km/h", 1 / 3.6), ("kn", 1852 / 3600), ("ft/s", 0.3048)
    ),
    Kind.TEMPERATURE: (
        LogUnit("K"),
        LogUnit("degC", 1.0, -273.15),
        LogUnit("0.01 degC", 0.01, -27315.0),
        LogUnit("0.1 degC", 0.1, -2731.5),
        LogUnit("degF", 5 / 9, -459.67),
    ),
    Kind.PRESSURE: _units(("Pa", 1), ("hPa", 100), ("kPa", 1000), ("mbar", 100), ("bar", 1e5)),
    Kind.LABEL: (LogUnit("words"),),
}

#: The dimension words of ``core/unit_table`` that a kind may be scaled from.
_DIMENSION = {
    "time": Kind.TIME,
    "angular rate": Kind.RATE,
    "acceleration": Kind.ACCELERATION,
    "voltage": Kind.VOLTAGE,
    "current": Kind.CURRENT,
    "angle": Kind.ANGLE,
    "length": Kind.LENGTH,
    "speed": Kind.SPEED,
    "pressure": Kind.PRESSURE,
}
_NUMBER = r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
_SPAN = re.compile(rf"\s*({_NUMBER})\s*(?:\.\.|to)\s*({_NUMBER})\s*(.{{0,20}})", re.I)
_POLES = re.compile(r"electrical rpm\W+(\d{1,3}) poles", re.I)
_COUNTER = re.compile(rf"({_NUMBER})\s*(k?)hz", re.I)


def unit_of(kind: Kind, text: str) -> LogUnit | None:
    """The unit a text names for a kind; ``None`` where it names none.

    Beside the words of :data:`UNITS`: scaled units (``0.061 deg/s``), spans of a command
    (``1000..2000 us``), ``electrical rpm, 14 poles``, and for time a counter's rate (``1000 Hz``).
    """
    text = " ".join(text.split())
    for word in (text, trade_word(text, kind)):
        found = next((unit for unit in UNITS[kind] if word and unit.word.casefold() == word.casefold()), None)
        if found is not None:
            return found
    return _span(kind, text) or _rotor(kind, text) or _counter(kind, text) or _scaled(kind, text)


def _span(kind: Kind, text: str) -> LogUnit | None:
    match = _SPAN.fullmatch(text)
    if match is None or kind not in (Kind.SHARE, Kind.STICK, Kind.CONTROL):
        return None
    low, high = float(match[1]), float(match[2])
    if not (low < high and math.isfinite(low) and math.isfinite(high)):
        return None
    return span_unit(low, high, kind, match[3].strip())


def _rotor(kind: Kind, text: str) -> LogUnit | None:
    match = _POLES.fullmatch(text)
    if kind is not Kind.ROTOR or match is None or int(match[1]) < 2 or int(match[1]) % 2:
        return None
    return LogUnit(f"electrical rpm, {int(match[1])} poles", 1 / 60 / (int(match[1]) / 2))


def _counter(kind: Kind, text: str) -> LogUnit | None:
    match = _COUNTER.fullmatch(text)
    if kind is not Kind.TIME or match is None:
        return None
    rate = float(match[1]) * (1000 if match[2] else 1)
    return LogUnit(f"{rate:g} Hz", 1 / rate) if 0 < rate < 1e12 else None


def _scaled(kind: Kind, text: str) -> LogUnit | None:
    scale = common_scale(text)
    if scale is None or scale.offset:
        return None
    if kind is Kind.ROTOR and scale.dimension == "angular rate":
        return LogUnit(text, float(scale.factor) / (2 * math.pi))
    if _DIMENSION.get(scale.dimension) is not kind:
        return None
    return LogUnit(text, float(scale.factor))


def words_possible(kind: Kind) -> tuple[str, ...]:
    """What may be stated for a kind, for a refusal."""
    words = tuple(unit.word for unit in UNITS[kind])
    more = {
        Kind.TIME: ("1000 Hz (a counter's rate)",),
        Kind.RATE: ("0.061 deg/s (scale of one count)",),
        Kind.ACCELERATION: ("0.0005 gn (scale of one count)",),
        Kind.SHARE: ("LOW..HIGH",),
        Kind.STICK: ("LOW..HIGH",),
        Kind.CONTROL: ("LOW..HIGH",),
        Kind.ROTOR: ("electrical rpm, 14 poles",),
    }
    return words + more.get(kind, ())
