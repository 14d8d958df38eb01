"""Lines that name their parts: ``name="gain" value="4" unit="ms"``, and elements ``<gain>4</gain>``."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.formats.listing.roles import BANKS, INDEXES, NAMES, UNITS, VALUES
from asflown.formats.listing.values import Found, Span

_PAIR = re.compile(
    r"(?<![\w.\-:])([A-Za-z_][\w.\-:]*+)\s*+=\s*+(?:\"((?:[^\"\\]|\\.)*)\"|'([^']*)'|([^\s\"'<>/,;]+))"
)
_ELEMENT = re.compile(
    r"^\s*<([A-Za-z_][\w.\-:]*)((?:\s+[\w.\-:]+\s*=\s*(?:\"[^\"]*\"|'[^']*'))*)\s*>([^<]*)</\1>\s*$"
)
_NAME_ORDER = ("name", "key", "id", "parameter", "param", "setting", "option", "property")


@dataclass(frozen=True)
class AttributeShape:
    """A line of ``key=text`` pairs, one of which is the name and one the value."""

    name: str
    value: str
    unit: str | None = None
    index: str | None = None
    bank: str | None = None
    escaped: bool = False

    def match(self, text: str) -> Found | None:
        """The line's parts, ``None`` where it lacks a name or a value."""
        spans = _spans(text) if len(text) <= 10_000 else {}
        if self.name not in spans or self.value not in spans:
            return None
        name, value = spans[self.name], spans[self.value]
        unit = spans.get(self.unit or "")
        index = spans.get(self.index or "")
        bank = spans.get(self.bank or "")
        if name[0] >= name[1]:
            return None
        return Found(
            self.shown(text[slice(*name)]),
            text[slice(*index)] if index else None,
            self.shown(text[slice(*value)]),
            (text[slice(*unit)] or None) if unit else None,
            (text[slice(*bank)] or None) if bank else None,
            name,
            index,
            value,
            unit if unit and unit[0] < unit[1] else None,
        )

    def shown(self, text: str) -> str:
        """What stands for a text in the file."""
        return _unescaped(text) if self.escaped else text

    def stored(self, text: str) -> str:
        """How the file writes a text."""
        return _escaped(text) if self.escaped else text

    def pattern(self) -> str:
        """The template as a person may read it."""
        return f"{self.name}={{name}} {self.value}={{value}}"

    def says(self) -> str:
        """What was learned, in one sentence."""
        return f"each line names its parts: {self.name!r} is the name, {self.value!r} the value"


@dataclass(frozen=True)
class ElementShape:
    """A line ``<name>value</name>``."""

    def match(self, text: str) -> Found | None:
        """The line's parts, ``None`` where it is no such element."""
        found = _ELEMENT.match(text) if len(text) < 10_000 else None
        if found is None:
            return None
        value = _unescaped(found.group(3))
        return Found(found.group(1), None, value, None, None, found.span(1), None, found.span(3), None)

    def stored(self, text: str) -> str:
        """How the file writes a text."""
        return _escaped(text)

    def pattern(self) -> str:
        """The template as a person may read it."""
        return "<{name}>{value}</"

    def says(self) -> str:
        """What was learned, in one sentence."""
        return "each line is an element: its tag is the name, its text the value"


def _spans(text: str) -> dict[str, Span]:
    spans: dict[str, Span] = {}
    for match in _PAIR.finditer(text):
        spans.setdefault(match.group(1), match.span(match.lastindex or 1))
    return spans


def _unescaped(text: str) -> str:
    import html

    return html.unescape(text) if "&" in text else text


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def learn_attributes(texts: Sequence[str]) -> AttributeShape | ElementShape | None:
    """A template of named parts in these lines, ``None`` where there is none."""
    sample = [text[:4000] for text in texts[:2000] if not text.lstrip().startswith(("<?", "<!"))]
    if not sample:
        return None
    elements = sum(_ELEMENT.match(text) is not None for text in sample)
    if elements and elements >= 0.5 * len(sample):
        return ElementShape()
    rows = [spans for text in sample if len(spans := _spans(text)) >= 2]
    if len(rows) < 2 or len(rows) < 0.5 * len(sample):
        return None
    counts = Counter(key for row in rows for key in row)
    common = [key for key, count in counts.items() if count >= 0.9 * len(rows)]
    lower = {key.lower(): key for key in common}
    name = next((lower[key] for key in _NAME_ORDER if key in lower), None) or next(
        (lower[key] for key in lower if key in NAMES), None
    )
    value = next((lower[key] for key in ("value", "val") if key in lower), None) or next(
        (lower[key] for key in lower if key in VALUES and lower[key] != name), None
    )
    if name is None or value is None or name == value:
        return None
    lower = {key.lower(): key for key in counts}

    def optional(words: frozenset[str]) -> str | None:
        return next((lower[key] for key in lower if key in words and lower[key] not in (name, value)), None)

    tagged = sum(text.lstrip().startswith("<") for text in sample) > 0.5 * len(sample)
    return AttributeShape(name, value, optional(UNITS), optional(INDEXES), optional(BANKS), tagged)
