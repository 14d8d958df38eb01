"""What two parameters state beside their names, and how far it agrees."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from asflown.core.carry.matching.quantity import Quantity
from asflown.core.carry.matching.reading import Reading

#: 1 agrees, -1 differs, 0 one side states nothing.
FACTS = (
    "kind", "type", "default_same", "default_other", "default_unstated", "default_scaled", "numbers",
    "range", "unit", "choices", "group", "described", "description_same", "same_words", "last_word",
    "first_word", "index",
)  # fmt: skip


def rarity_of_defaults(readings: Sequence[Reading]) -> Mapping[str | None, float]:
    """Surprise of a factory value, -log of its share: two equal rare ones say more than two zeros."""
    counts = Counter(reading.default for reading in readings)
    return {value: -math.log(count / len(readings)) for value, count in counts.items()}


def facts(a: Reading, b: Reading, rarity: Mapping[str | None, float]) -> tuple[float, ...]:
    """The facts of a pair, in the order of :data:`FACTS`."""
    x, y = a.definition.description, b.definition.description
    described = bool(x and y)
    return (
        _agree(a.kind, b.kind),
        _agree(a.type, b.type),
        *_defaults(a, b, rarity),
        _range(a, b),
        _unit(a, b),
        _labels(a.labels, b.labels),
        float(a.group == b.group),
        float(described),
        float(described and (x or "").strip(" .") == (y or "").strip(" .")),
        float(sorted(a.words) == sorted(b.words)),
        float(bool(a.words and b.words) and a.words[-1] == b.words[-1]),
        float(bool(a.words and b.words) and a.words[0] == b.words[0]),
        index_agreement(a.words, b.words),
    )


def _agree(a: str | None, b: str | None) -> float:
    return 0.0 if a is None or b is None else 1.0 if a == b else -1.0


def _defaults(
    a: Reading, b: Reading, rarity: Mapping[str | None, float]
) -> tuple[float, float, float, float, float]:
    """Surprise where equal; 1 where they differ, 0.5 where one is stated; neither; in units; both numbers."""
    x, y = a.default, b.default
    numbers = float(a.quantity is not None and b.quantity is not None)
    scaled = same_amount(a.quantity, b.quantity)
    if x is None or y is None:
        neither = x is None and y is None
        return 0.0, 0.0 if neither else 0.5, float(neither), scaled, numbers
    return (rarity[x] if x == y else 0.0), float(x != y), 0.0, scaled, numbers


def same_amount(a: Quantity | None, b: Quantity | None) -> float:
    """1 where both have a unit and are the same amount, -1 where they are not, 0 where no unit says."""
    if a is None or b is None or a.base is None or b.base is None:
        return 0.0
    return 1.0 if a.dimension == b.dimension and a.base and _near(a.base, b.base) else -1.0


def _near(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=1e-6)


def _range(a: Reading, b: Reading) -> float:
    if a.span == (None, None) or b.span == (None, None):
        return 0.0
    if a.span == b.span:
        return 1.0
    if None not in (*a.span, *b.span) and a.unit and b.unit and a.unit.dimension == b.unit.dimension:
        ends = [(x or 0) * a.unit.factor for x in a.span], [(y or 0) * b.unit.factor for y in b.span]
        if all(math.isclose(x, y, rel_tol=1e-3) for x, y in zip(*ends, strict=True)):
            return 1.0
    return -0.5 if a.span[0] == b.span[0] or a.span[1] == b.span[1] else -1.0


def _unit(a: Reading, b: Reading) -> float:
    x, y = a.definition.unit, b.definition.unit
    if x and y and x.casefold() == y.casefold():
        return 1.0
    if a.unit and b.unit:
        if a.unit.dimension != b.unit.dimension:
            return -1.0
        return 1.0 if a.unit.factor == b.unit.factor else 0.5
    return -1.0 if x and y else 0.0


def _labels(a: frozenset[str], b: frozenset[str]) -> float:
    return 2 * len(a & b) / len(a | b) - 1 if a and b else 0.0


def index_agreement(a: Sequence[str], b: Sequence[str]) -> float:
    """1 where both names hold the same numbers, -1 where other ones, 0 where neither holds any."""
    x, y = [w for w in a if w.isdigit()], [w for w in b if w.isdigit()]
    return 0.0 if not x and not y else 1.0 if x == y else -1.0
