"""Patterns a person may pin a listing's shape with."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field

from asflown.errors import InputError
from asflown.formats.listing.shape import _name_and_index, quoted
from asflown.formats.listing.values import Found, Span, ValueRules, split_value, trim

_FIELDS = ("name", "value", "index", "bank", "unit", "skip")
_PART = re.compile(r"\{([^{}\s]*)\}|([ \t]+)|((?:\{(?![^{}\s]*\})|[^{ \t])+)")
_BRACED = re.compile(r"\{[a-z]{2,12}\}")


@dataclass(frozen=True)
class PinnedShape:
    """A pattern a person gave: literals, blanks (``" "``) and fields (``("name",)``) from left to right."""

    parts: tuple[str | tuple[str], ...]
    source: str
    values: ValueRules = field(default_factory=ValueRules)

    def match(self, text: str) -> Found | None:
        """The line's parts, ``None`` where the pattern does not fit."""
        spans = self.spans(text)[0]
        if spans is None or "name" not in spans:
            return None
        plain, inner, index = _name_and_index(text, trim(text, *spans["name"]))
        if plain[0] >= plain[1]:
            return None
        if "index" in spans:
            inner = trim(text, *spans["index"])
            index = text[inner[0] : inner[1]]
        at = spans.get("value", (len(text), len(text)))
        value, unit = split_value(text, *at, self.values)
        if "unit" in spans:
            unit = trim(text, *spans["unit"])
            unit = unit if unit[0] < unit[1] else None
        bank = text[slice(*spans["bank"])].strip() or None if "bank" in spans else None
        return Found(
            text[plain[0] : plain[1]],
            index,
            text[value[0] : value[1]],
            text[unit[0] : unit[1]] if unit else None,
            bank,
            plain,
            inner,
            value,
            unit,
        )

    def spans(self, text: str) -> tuple[dict[str, Span] | None, int]:
        """Where each field stands, and how many parts fitted from the left."""
        place = trim(text, 0, len(text))[0]
        end = len(text.rstrip())
        found: dict[str, Span] = {}
        waiting: str | None = None
        start = place
        for number, part in enumerate(self.parts):
            last = number == len(self.parts) - 1
            if isinstance(part, tuple):
                waiting, start = part[0], place
                if last:
                    found[waiting] = (start, end)
                    return found, number + 1
                continue
            at = _literal(text, part, place, end, last and waiting is not None, waiting is None)
            if at is None:
                return None, number
            if waiting is not None:
                if at[0] <= start and waiting == "name":
                    return None, number
                found[waiting] = (start, at[0])
                waiting = None
            place = at[1]
        return (found, len(self.parts)) if place >= end else (None, len(self.parts))

    def pattern(self) -> str:
        """The pattern as it was given."""
        return self.source

    def says(self) -> str:
        """What was learned, in one sentence."""
        return f"the shape was pinned to {quoted(self.source)}"


def _literal(text: str, part: str, place: int, end: int, last: bool, here: bool) -> Span | None:
    if part == " ":
        return _blanks(text, place, end, here)
    if last:
        return (end - len(part), end) if text.endswith(part, place, end) else None
    if here:
        return (place, place + len(part)) if text.startswith(part, place) else None
    at = text.find(part, place, end)
    return None if at < 0 else (at, at + len(part))


def _blanks(text: str, place: int, end: int, here: bool) -> Span | None:
    if here:
        stop = trim(text, place, end)[0]
        return (place, stop) if stop > place or place >= end else None
    spots = [spot for spot in (text.find(" ", place, end), text.find("\t", place, end)) if spot >= 0]
    if not spots:
        return (end, end) if place < end else None
    return min(spots), trim(text, min(spots), end)[0]


def compile_patterns(source: str) -> tuple[PinnedShape, ...]:
    """Compile pinned patterns, one a line.

    Raises
    ------
    InputError
        Where a pattern has no ``{name}``, an unknown field, a field twice or two fields side by side.
    """
    shapes = [_compile(line) for line in source.splitlines() if line.strip()]
    if not shapes:
        raise InputError(
            "the shape is empty", where="--shape", next_step="for example: --shape 'put {name} = {value}'"
        )
    return tuple(shapes)


def _compile(source: str) -> PinnedShape:
    parts: list[str | tuple[str]] = []
    for match in _PART.finditer(source.strip()):
        if match.group(1) is not None:
            parts.append((match.group(1),))
        else:
            parts.append(" " if match.group(2) else match.group(3))
    names = [part[0] for part in parts if isinstance(part, tuple)]
    wrong = [name for name in names if name not in _FIELDS]
    if wrong:
        _refuse(source, f"unknown field {quoted('{' + wrong[0] + '}')}")
    if names.count("name") != 1:
        _refuse(source, "a shape needs {name} exactly once")
    twice = [name for name in names if names.count(name) > 1 and name != "skip"]
    if twice:
        _refuse(source, f"{quoted('{' + twice[0] + '}')} stands twice")
    for one, two in itertools.pairwise(parts):
        if isinstance(one, tuple) and isinstance(two, tuple):
            _refuse(source, "two fields stand side by side: nothing tells where one ends")
    return PinnedShape(tuple(_joined(parts)), source.strip())


def _joined(parts: list[str | tuple[str]]) -> list[str | tuple[str]]:
    """Blanks around a literal need not be there in the line where the literal alone tells the place."""
    return parts


def _refuse(source: str, what: str) -> None:
    raise InputError(
        f"{what}: {quoted(source)}",
        where="--shape",
        next_step="use {name}, {value}, {index}, {bank}, {unit} and {skip}, e.g. 'put {name} = {value}'",
    )


def closest(shape: PinnedShape, texts: list[tuple[int, str]]) -> tuple[int, str]:
    """The line (number, text) that the pattern comes nearest to."""
    return max(texts, key=lambda line: (shape.spans(line[1])[1], -line[0]))
