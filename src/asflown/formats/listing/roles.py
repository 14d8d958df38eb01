"""Which column of a table is the name, the value, the unit, the index, the bank."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

NAMES = frozenset(
    [
        "name",
        "parameter",
        "param",
        "setting",
        "variable",
        "key",
        "option",
        "property",
        "attribute",
        "field",
        "item",
        "tunable",
        "label",
        "symbol",
        "entry",
        "quantity",
        "what",
    ]
)
VALUES = frozenset(
    [
        "value",
        "val",
        "current",
        "setting",
        "set",
        "data",
        "state",
        "content",
        "now",
        "actual",
        "present",
        "reading",
    ]
)
UNITS = frozenset(["unit", "units", "uom", "dimension"])
INDEXES = frozenset(["index", "idx", "instance", "element"])
BANKS = frozenset(["bank", "section", "profile"])
GROUPS = frozenset(["group", "category", "module", "class", "subsystem", "area", "page", "table"])
OTHERS = frozenset(
    [
        "type",
        "kind",
        "min",
        "max",
        "minimum",
        "maximum",
        "default",
        "description",
        "desc",
        "comment",
        "note",
        "notes",
        "remark",
        "range",
        "access",
        "flags",
        "help",
        "text",
        "meaning",
        "source",
        "decimals",
        "low",
        "high",
        "lower",
        "upper",
        "factory",
        "was",
        "previous",
        "step",
        "scale",
        "level",
        "since",
        "status",
        "nr",
        "no",
        "#",
        "id",
        "addr",
        "address",
    ]
)
_WORD = re.compile(r"[a-z#]+")


@dataclass(frozen=True)
class Roles:
    """Column numbers by role."""

    name: int
    value: int
    unit: int | None = None
    index: int | None = None
    bank: int | None = None


def _words(title: str) -> set[str]:
    return {word.strip("()[]:.,") for word in title.replace("_", " ").replace("/", " ").split()}


def _known(title: str) -> bool:
    return bool(_words(title) & (NAMES | VALUES | UNITS | INDEXES | BANKS | GROUPS | OTHERS))


def is_title_row(head: Sequence[str], body: Sequence[Sequence[str]], *, strict: bool = False) -> bool:
    """Whether a row holds column titles.

    Parameters
    ----------
    head
        Its cells in lower case.
    body
        The rows below, where they are known.
    strict
        Ask for a known title of a name and of a value.
    """
    if not head or any(re.fullmatch(r"[-+]?[\d.]+", cell) for cell in head):
        return False
    filled = [cell for cell in head if cell]
    if len(set(filled)) < len(filled) or len(filled) < 2 or any(len(cell) > 40 for cell in filled):
        return False
    known = sum(_known(cell) for cell in filled)
    named = any(_words(cell) & NAMES for cell in filled) and any(_words(cell) & VALUES for cell in filled)
    if strict:
        return (
            named and known >= 2 and known >= 0.6 * len(filled) and all(_WORD.match(cell) for cell in filled)
        )
    if named and known >= 2:
        return True
    if known >= 2 and known >= 0.6 * len(filled):
        return True
    return _kinds_differ(head, body)


def _kinds_differ(head: Sequence[str], body: Sequence[Sequence[str]]) -> bool:
    """Whether a column of numbers stands under a word, and no cell of the head comes again below."""
    if (
        len(body) < 3
        or len(head) < 3
        or not all(re.fullmatch(r"[A-Za-z][\w .%()/\-]*|", cell) for cell in head)
    ):
        return False
    for column, title in enumerate(head):
        cells = [row[column].lower() for row in body]
        if title and title in cells:
            return False
    return any(
        head[column] and all(re.fullmatch(r"[-+]?\d[\d.eE+\-]*", row[column]) for row in body)
        for column in range(len(head))
    )


def assign_roles(titles: Sequence[str], body: Sequence[Sequence[str]]) -> Roles | None:
    """Roles from the titles, and from the cells where titles say nothing."""
    width = len(body[0])
    words = [_words(title) for title in titles] if titles else [set[str]() for _ in range(width)]
    unit = _first(words, UNITS)
    index = _first(words, INDEXES)
    bank = _first(words, BANKS)
    taken = {column for column in (unit, index, bank) if column is not None}
    name = _name_column(words, body, taken)
    if name is None:
        return None
    taken.add(name)
    value = _value_column(words, body, taken, name)
    if value is None:
        return None
    if bank is None:
        bank = _needed_bank(words, body, name, value, index)
    if index is None and not titles:
        unit = unit if unit is not None else _unit_column(body, taken | {value})
    return Roles(name, value, unit, index, bank)


def _first(words: Sequence[set[str]], wanted: frozenset[str]) -> int | None:
    return next(
        (column for column, title in enumerate(words) if title & wanted and not title & {"default"}), None
    )


def _distinct(body: Sequence[Sequence[str]], column: int) -> float:
    return len({row[column] for row in body}) / len(body)


def _is_text(body: Sequence[Sequence[str]], column: int) -> bool:
    return sum(bool(re.search(r"[^\W\d]", row[column])) for row in body) >= 0.9 * len(body)


def _name_column(words: Sequence[set[str]], body: Sequence[Sequence[str]], taken: set[int]) -> int | None:
    exact = [c for c, title in enumerate(words) if title & NAMES and c not in taken and not title & {"value"}]
    exact.sort(key=lambda c: ("name" not in words[c], -_distinct(body, c)))
    if exact:
        return exact[0]
    free = [c for c in range(len(body[0])) if c not in taken and _is_text(body, c)]
    free = [c for c in free if not any(" " in row[c].strip() for row in body)] or free
    unique = [c for c in free if _distinct(body, c) >= 0.9]
    if unique:
        return unique[0]
    return max(free, key=lambda c: _distinct(body, c)) if free else None


def _value_column(
    words: Sequence[set[str]], body: Sequence[Sequence[str]], taken: set[int], name: int
) -> int | None:
    for wanted in ({"value", "val"}, {"current", "now", "actual", "present"}, VALUES):
        for column, title in enumerate(words):
            if (
                column not in taken
                and title & wanted
                and not title & {"default", "min", "max", "factory", "type"}
            ):
                return column
    free = [
        c for c in range(len(body[0])) if c not in taken and not words[c] & OTHERS and not words[c] & GROUPS
    ]
    free = [c for c in free if c > name] or free
    if not free:
        return None
    if len(free) == 1 or any(words):
        return free[0]
    numeric = [c for c in free if any(re.match(r"[-+]?[\d.]", row[c]) for row in body)]
    varied = [c for c in numeric if _distinct(body, c) > 0.25] or [
        c for c in free if _distinct(body, c) > 0.25
    ]
    return (varied or numeric or free)[0]


def _needed_bank(
    words: Sequence[set[str]], body: Sequence[Sequence[str]], name: int, value: int, index: int | None
) -> int | None:
    """A group column, where names alone do not tell the rows apart."""

    def keys(*columns: int) -> int:
        return len({tuple(row[c] for c in columns) for row in body})

    base = (name,) if index is None else (name, index)
    if keys(*base) == len(body):
        return None
    free = [c for c in range(len(body[0])) if c not in (*base, value)]
    titled = [c for c in free if words[c] & GROUPS]
    for column in titled or [c for c in free if c < name]:
        if keys(column, *base) > keys(*base):
            return column
    return None


def _unit_column(body: Sequence[Sequence[str]], taken: set[int]) -> int | None:
    from asflown.formats.listing.values import UNITS as SYMBOLS

    for column in range(len(body[0])):
        cells = {row[column] for row in body} - {"", "-"}
        if column not in taken and cells and sum(cell in SYMBOLS for cell in cells) >= 0.6 * len(cells):
            return column
    return None
