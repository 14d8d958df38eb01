"""What may follow a separator: quotes, units, trailing comments, and the places they stand at."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

Span = tuple[int, int]

#: Pairs of quotation marks.
QUOTES = {'"': '"', "'": "'", "`": "`", "“": "”", "«": "»", "‘": "’", "„": "“"}

#: Unit symbols of ISO 80000 / the SI brochure and everyday bench ones (from memory): a number followed by one
#: of these is a quantity even when it stands once only.
UNITS = frozenset(
    [
        "s",
        "ms",
        "us",
        "µs",
        "μs",
        "ns",
        "min",
        "h",
        "d",
        "Hz",
        "kHz",
        "MHz",
        "GHz",
        "V",
        "mV",
        "uV",
        "µV",
        "A",
        "mA",
        "uA",
        "µA",
        "Ah",
        "mAh",
        "W",
        "mW",
        "kW",
        "Wh",
        "J",
        "N",
        "Nm",
        "kg",
        "g",
        "mg",
        "m",
        "mm",
        "cm",
        "km",
        "um",
        "µm",
        "m/s",
        "m/s2",
        "m/s^2",
        "m/s²",
        "m/ss",
        "km/h",
        "deg",
        "deg/s",
        "°",
        "°/s",
        "°C",
        "C",
        "K",
        "F",
        "rad",
        "rad/s",
        "rad/s2",
        "rad/s²",
        "mrad",
        "rev/s",
        "rpm",
        "%",
        "‰",
        "ppm",
        "dB",
        "dBm",
        "dBi",
        "Pa",
        "hPa",
        "kPa",
        "mbar",
        "bar",
        "ohm",
        "Ω",
        "kΩ",
        "mΩ",
        "mohm",
        "uF",
        "µF",
        "pF",
        "T",
        "uT",
        "µT",
        "G",
        "Gauss",
        "gauss",
        "g0",
        "bit",
        "bits",
        "byte",
        "bytes",
        "B",
        "kB",
        "KB",
        "MB",
        "GB",
        "TB",
        "KiB",
        "MiB",
        "GiB",
        "kbit/s",
        "Mbit/s",
        "bps",
        "kbps",
        "Mbps",
        "baud",
        "px",
        "pt",
    ]
)

NUMBER = re.compile(
    r"[-+]?(?:0[xX][0-9A-Fa-f]{1,32}|\d[\d_]{0,40}(?:[.,]\d{0,40})?(?:[eE][-+]?\d{1,4})?|[.,]\d{1,40}(?:[eE][-+]?\d{1,4})?)"
)
_UNIT_TOKEN = re.compile(r"[^\W\d]|[%°‰µΩ]")


class Found(NamedTuple):
    """The parts of one setting line, and where each stands in the line's text."""

    name: str
    index: str | None  # type: ignore[assignment]  # the tuple method of that name is not used
    value: str
    unit: str | None
    bank: str | None
    name_at: Span
    index_at: Span | None
    value_at: Span
    unit_at: Span | None


@dataclass(frozen=True)
class ValueRules:
    """What follows the separator.

    Attributes
    ----------
    terminator
        A constant last character of the line (``;`` or ``,``), empty where there is none.
    tails
        Marks that begin a trailing comment when they stand after a blank.
    units
        Unit words learned: a number followed by one of them is a value with its unit.
    wrap
        Brackets around every value, e.g. ``("<", ">")``; empty where values stand bare.
    """

    terminator: str = ""
    tails: tuple[str, ...] = ()
    units: frozenset[str] = frozenset()
    unit_wrap: tuple[str, str] | None = None
    wrap: tuple[str, str] | None = None
    #: Brackets around words that stand before every value, e.g. a range.
    lead: tuple[str, str] | None = None


def close_quote(text: str, start: int) -> int:
    """Place of the quotation mark that closes the one at ``start``, or -1."""
    mark = QUOTES[text[start]]
    place = text.find(mark, start + 1)
    while place > 0:
        back = place - 1
        while back > start and text[back] == "\\":
            back -= 1
        if (place - 1 - back) % 2 == 0:
            return place
        place = text.find(mark, place + 1)
    return -1


def trim(text: str, start: int, end: int) -> Span:
    """Narrow a span by the blanks at both sides."""
    while start < end and text[start] in " \t":
        start += 1
    while end > start and text[end - 1] in " \t":
        end -= 1
    return start, end


def split_value(text: str, start: int, end: int, rules: ValueRules) -> tuple[Span, Span | None]:
    """Value and unit in ``text[start:end]``, both as spans without quotes."""
    start, end = trim(text, start, end)
    if rules.lead and text.startswith(rules.lead[0], start):
        close = text.find(rules.lead[1], start, end)
        start = trim(text, close + 1, end)[0] if close > 0 else start
    if start < end and text[start] in QUOTES:
        closing = close_quote(text, start)
        if 0 < closing < end:
            rest = text[closing + 1 : end].strip()
            if not rest or rest == rules.terminator or _is_tail(rest, rules):
                return (start + 1, closing), None
            unit = _unit_after(text, closing + 1, end, rules)
            if unit is not None:
                return (start + 1, closing), unit
    end = _without_tail(text, start, end, rules)
    if rules.terminator and text.endswith(rules.terminator, start, end):
        start, end = trim(text, start, end - len(rules.terminator))
        end = _without_tail(text, start, end, rules)
    if (
        rules.wrap
        and end - start >= 2
        and text.startswith(rules.wrap[0], start)
        and text.endswith(rules.wrap[1], start, end)
    ):
        return trim(text, start + 1, end - 1), None
    if end - start >= 2 and text[start] in QUOTES and close_quote(text, start) == end - 1:
        return (start + 1, end - 1), None
    return _with_unit(text, start, end, rules)


def _is_tail(rest: str, rules: ValueRules) -> bool:
    if rules.terminator and rest.startswith(rules.terminator):
        rest = rest[len(rules.terminator) :].strip()
    return any(rest.startswith(mark) for mark in rules.tails)


def _without_tail(text: str, start: int, end: int, rules: ValueRules) -> int:
    cut = end
    for mark in rules.tails:
        if mark == "  ":
            cut = _wide_cut(text, start, cut)
            continue
        place = text.find(mark, start, cut)
        while place >= 0:
            if place == start or text[place - 1] in " \t":
                if place == start and not _alone(text, place, mark, end):
                    place = text.find(mark, place + 1, cut)
                    continue
                cut = place
                break
            if rules.terminator and text[place - 1] == rules.terminator:
                cut = place
                break
            place = text.find(mark, place + 1, cut)
    return trim(text, start, cut)[1]


def _wide_cut(text: str, start: int, end: int) -> int:
    places = [place for place in (text.find("  ", start, end), text.find("\t", start, end)) if place > start]
    return min(places, default=end)


def _alone(text: str, place: int, mark: str, end: int) -> bool:
    """Whether a mark that begins the value region is a comment: a blank follows and the value is empty."""
    after = place + len(mark)
    if mark in ("(", "{", "[", "<"):
        return text[max(0, place - 2) : place] == "  "
    return after >= end or text[after] in " \t"


def _with_unit(text: str, start: int, end: int, rules: ValueRules) -> tuple[Span, Span | None]:
    if not rules.units:
        return (start, end), None
    blank = max(text.rfind(" ", start, end), text.rfind("\t", start, end))
    if blank < 0:
        return (start, end), None
    unit = (blank + 1, end)
    word = text[blank + 1 : end]
    if rules.unit_wrap and word[:1] == rules.unit_wrap[0] and word[-1:] == rules.unit_wrap[1]:
        unit = (blank + 2, end - 1)
    if text[unit[0] : unit[1]] not in rules.units:
        return (start, end), None
    number = trim(text, start, blank)
    if NUMBER.fullmatch(text, *number) is None:
        return (start, end), None
    return number, unit


def _unit_after(text: str, start: int, end: int, rules: ValueRules) -> Span | None:
    start, end = trim(text, start, end)
    if (
        rules.unit_wrap
        and text[start : start + 1] == rules.unit_wrap[0]
        and text[end - 1 : end] == rules.unit_wrap[1]
    ):
        start, end = start + 1, end - 1
    return (start, end) if text[start:end] in rules.units else None


def learn_units(values: list[str]) -> tuple[frozenset[str], tuple[str, str] | None]:
    """Unit words that follow numbers in these value texts, and the brackets around them."""
    counts: dict[str, int] = {}
    wraps: dict[tuple[str, str] | None, int] = {}
    for value in values:
        pieces = value.split()
        if len(pieces) != 2 or NUMBER.fullmatch(pieces[0]) is None:
            continue
        word, wrap = pieces[1], None
        if len(word) > 2 and (word[0] + word[-1]) in ("()", "[]", "<>"):
            wrap, word = (word[0], word[-1]), word[1:-1]
        if len(word) <= 12 and _UNIT_TOKEN.match(word):
            counts[word] = counts.get(word, 0) + 1
            wraps[wrap] = wraps.get(wrap, 0) + 1
    units = frozenset(word for word, count in counts.items() if count >= 3 or word in UNITS)
    full = sum(counts.values()) >= 0.9 * len(values) and len(values) >= 4
    if full and len(counts) * 2 <= len(values):
        units = frozenset(counts)
    if not units:
        return frozenset(), None
    if any(word in UNITS for word in units):
        units = frozenset(counts)
    return units, max(wraps, key=lambda wrap: wraps[wrap])
