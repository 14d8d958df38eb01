"""Several settings on one line: each gets a line of its own, holding its share of the bytes.

Three ways are known: pairs between blanks (``A="x" B="y"``), pairs between commas, statements between
semicolons. A line whose first pair differs while the other keys come again on every line holds one setting
with attributes; lines with all keys alike are records, and what their first pair says is the bank.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from asflown.formats.listing.roles import NAMES
from asflown.formats.listing.text import Line, Text

_KEY = r"[A-Za-z_$%&@\-][\w.\-/:\[\]$]{0,60}"
_QUOTED = r"\"(?:[^\"\\]|\\.)*\"|'[^']*'"
_PAIR = re.compile(rf"({_KEY})=({_QUOTED}|[^\s\"'=]*)(?=\s|$)")
_PAIRS = re.compile(rf"{_KEY}=(?:{_QUOTED}|[^\s\"'=]*)(?:\s+{_KEY}=(?:{_QUOTED}|[^\s\"'=]*))+")
_PART = {
    ",": re.compile(rf"\s*{_KEY}\s*[=:]\s*(?:{_QUOTED}|[^=\"']*)$"),
    ";": re.compile(rf"\s*(?:[^\W\d][\w.\-/ ]{{0,40}}?\s*[=:]\s*[^=]+|{_KEY} [-+]?\d[\w.]*(?: \w+)?)$"),
}
SAMPLE = 400


@dataclass(frozen=True)
class Split:
    """Lines taken apart; ``records`` are places of pairs that name the record behind them."""

    lines: list[Line]
    records: frozenset[int]


def split_lines(text: Text) -> Split | None:
    """Lines with one setting each, ``None`` where no line holds several."""
    filled = [
        line.text.strip() for line in text.lines if line.text.strip() and line.text.lstrip()[0] not in "#;!/"
    ]
    if not filled:
        return None
    step = max(1, len(filled) // SAMPLE)
    sample = [line[:4000] for line in filled[::step]]
    if sum(_PAIRS.fullmatch(line) is not None for line in sample) >= 0.8 * len(sample):
        return _pairs(text, [[m.group(1) for m in _PAIR.finditer(line)] for line in sample])
    for mark in (";", ","):
        parts = [[part for part in line.split(mark) if part.strip()] for line in sample if mark in line]
        several = sum(len(row) > 1 for row in parts)
        fit = sum(_PART[mark].match(part) is not None for row in parts for part in row)
        total = sum(map(len, parts))
        enough = len(parts) >= (0.3 if mark == ";" else 0.8) * len(sample)
        if enough and several >= 0.7 * len(parts) and fit >= 0.95 * total and total >= 2:
            return _cut_all(text, mark)
    return None


def _pairs(text: Text, keys: Sequence[Sequence[str]]) -> Split | None:
    firsts = Counter(row[0] for row in keys)
    others = Counter(key for row in keys for key in row[1:])
    alike = len(keys) > 1 and all(count >= 0.8 * len(keys) for count in others.values())
    named = {key.lower() for key in (*others, *firsts)}
    if alike and named & NAMES and {"value", "val"} & named:
        return None
    if alike and len(firsts) >= 0.9 * len(keys) and len(firsts) > 1:
        return _first_pairs(text)
    lines: list[Line] = []
    records = set()
    record = alike and len(firsts) == 1
    for line in text.lines:
        spans = [m.span() for m in _PAIR.finditer(line.text)] if _PAIRS.fullmatch(line.text.strip()) else []
        if record and spans:
            records.add(len(lines))
        lines.extend(_pieces(text, line, spans))
    return Split(lines, frozenset(records))


def _first_pairs(text: Text) -> Split:
    """Each line's first pair alone: what stands behind it describes it."""
    lines = []
    for line in text.lines:
        pair = _PAIR.match(line.text.strip())
        whole = _PAIRS.fullmatch(line.text.strip()) is not None
        lines.append(replace(line, text=pair.group(), noisy=True) if pair and whole else line)
    return Split(lines, frozenset())


def _cut_all(text: Text, mark: str) -> Split:
    lines: list[Line] = []
    for line in text.lines:
        spans, place = [], 0
        for part in line.text.split(mark):
            end = place + len(part)
            if part.strip():
                spans.append((place, end))
            place = end + 1
        lines.extend(_pieces(text, line, spans))
    return Split(lines, frozenset())


def _pieces(text: Text, line: Line, spans: Sequence[tuple[int, int]]) -> list[Line]:
    if len(spans) < 2:
        return [line]
    bounds = _bounds(text, line, [start for start, _ in spans[1:]])
    return [
        replace(line, text=line.text[a:b].strip(), start=start, end=end)
        for (a, b), start, end in zip(spans, bounds, bounds[1:], strict=False)
    ]


def _bounds(text: Text, line: Line, places: Sequence[int]) -> list[int]:
    """Byte places where the pieces begin; all bytes go to the first piece where they cannot be counted."""
    codec = "utf-8" if text.encoding == "utf-8-sig" else text.encoding
    inner = [line.start + len(line.text[:place].encode(codec, "replace")) for place in places]
    if line.noisy or (inner and inner[-1] > line.end) or not line.text.isascii():
        inner = [line.end] * len(places)
    return [line.start, *inner, line.end]
