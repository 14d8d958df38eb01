"""What two parameters state beside their names, and how far it agrees; over many pairs at once."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from asflown.core.carry.matching.quantity import Quantity
from asflown.core.carry.matching.reading import Reading

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from asflown.core.carry.matching.tables import Floats, Places

    Codes = NDArray[np.intp]

#: 1 agrees, -1 differs, 0 one side states nothing.
FACTS = (
    "kind", "type", "default_same", "default_other", "default_unstated", "default_scaled", "numbers",
    "range", "unit", "choices", "group", "described", "description_same", "same_words", "last_word",
    "first_word", "index",
)  # fmt: skip


class FactTable:
    """The facts of both catalogs as numbers; equal codes are equal facts, -1 is nothing stated."""

    def __init__(self, old: Sequence[Reading], new: Sequence[Reading]) -> None:
        import numpy as np

        both = (*old, *new)
        self._n = len(old)
        self._both = both
        self._kind = _codes(r.kind for r in both)
        self._type = _codes(r.type for r in both)
        self._default = _codes(r.default for r in both)
        counts = Counter(r.default for r in both)
        self._rarity = np.array([-math.log(counts[r.default] / len(both)) for r in both], np.float32)
        self._number = np.array([r.quantity is not None for r in both])
        self._amount = _floats(r.quantity.base if r.quantity else None for r in both)
        self._amount_of = _codes(r.quantity.dimension if r.quantity else None for r in both)
        self._low, self._high = _floats(r.span[0] for r in both), _floats(r.span[1] for r in both)
        self._unit = _codes(r.definition.unit.casefold() if r.definition.unit else None for r in both)
        self._dimension = _codes(r.unit.dimension if r.unit else None for r in both)
        self._factor = _floats(r.unit.factor if r.unit else None for r in both)
        self._labelled = np.array([bool(r.labels) for r in both])
        self._group = _codes(r.group for r in both)
        texts = (r.definition.description for r in both)
        self._text = _codes(text.strip(" .") if text else None for text in texts)
        self._words = _codes(tuple(sorted(r.words)) for r in both)
        self._last = _codes(r.words[-1] if r.words else None for r in both)
        self._first = _codes(r.words[0] if r.words else None for r in both)
        self._index = _codes(tuple(w for w in r.words if w.isdigit()) or None for r in both)

    def of(self, old: Places, new: Places) -> Floats:
        """The facts of pairs of positions, in the order of :data:`FACTS`; shape (facts, pairs)."""
        import numpy as np

        i, j = old, new + self._n
        described = (self._text[i] >= 0) & (self._text[j] >= 0)
        rows = [
            _agree(self._kind, i, j),
            _agree(self._type, i, j),
            *self._defaults(i, j),
            self._range(i, j),
            self._units(i, j),
            self._labels(i, j),
            self._group[i] == self._group[j],
            described,
            described & (self._text[i] == self._text[j]),
            self._words[i] == self._words[j],
            _same(self._last, i, j),
            _same(self._first, i, j),
            self._indexes(i, j),
        ]
        return np.array([np.asarray(row, np.float32) for row in rows])

    def _defaults(self, i: Places, j: Places) -> tuple[NDArray[Any], ...]:
        """Surprise if equal; 1 if other, 0.5 if one is stated; neither; in units; both numbers."""
        import numpy as np

        a, b = self._default[i] >= 0, self._default[j] >= 0
        same = a & b & (self._default[i] == self._default[j])
        other = np.where(a & b, np.where(same, 0.0, 1.0), np.where(a | b, 0.5, 0.0))
        x, y = self._amount[i], self._amount[j]
        known = np.isfinite(x) & np.isfinite(y)
        near = np.abs(x - y) <= 1e-6 * np.maximum(np.abs(x), np.abs(y))
        amount = near & (x != 0) & (self._amount_of[i] == self._amount_of[j])
        scaled = np.where(known, np.where(amount, 1.0, -1.0), 0.0)
        numbers = self._number[i] & self._number[j]
        return np.where(same, self._rarity[i], 0.0), other, ~a & ~b, scaled, numbers

    def _range(self, i: Places, j: Places) -> Floats:
        import numpy as np

        (a, b), (c, d) = (self._low[i], self._high[i]), (self._low[j], self._high[j])
        stated = (np.isfinite(a) | np.isfinite(b)) & (np.isfinite(c) | np.isfinite(d))
        low, high = _equal(a, c), _equal(b, d)
        f, g = self._factor[i], self._factor[j]
        scaled = np.isclose(a * f, c * g, rtol=1e-3, atol=0) & np.isclose(b * f, d * g, rtol=1e-3, atol=0)
        scaled &= self._dimension[i] == self._dimension[j]
        agrees = np.where(low | high, -0.5, -1.0)
        made = np.where(stated, np.where((low & high) | scaled, 1.0, agrees), 0.0)
        return np.asarray(made, np.float32)

    def _units(self, i: Places, j: Places) -> Floats:
        import numpy as np

        a, b = self._unit[i], self._unit[j]
        stated = (a >= 0) & (b >= 0)
        x, y = self._dimension[i], self._dimension[j]
        known = (x >= 0) & (y >= 0)
        measured = np.where(x != y, -1.0, np.where(self._factor[i] == self._factor[j], 1.0, 0.5))
        made = np.where(stated & (a == b), 1.0, np.where(known, measured, np.where(stated, -1.0, 0.0)))
        return np.asarray(made, np.float32)

    def _labels(self, i: Places, j: Places) -> Floats:
        import numpy as np

        made = np.zeros(len(i), np.float32)
        for k in np.flatnonzero(self._labelled[i] & self._labelled[j]).tolist():
            a, b = self._both[i[k]].labels, self._both[j[k]].labels
            made[k] = 2 * len(a & b) / len(a | b) - 1
        return made

    def _indexes(self, i: Places, j: Places) -> Floats:
        import numpy as np

        a, b = self._index[i], self._index[j]
        return np.asarray(np.where((a < 0) & (b < 0), 0.0, np.where(a == b, 1.0, -1.0)), np.float32)


def _codes(values: Iterable[Hashable | None]) -> Codes:
    """Equal values as equal numbers; nothing as -1."""
    import numpy as np

    known: dict[Hashable, int] = {}
    return np.array([-1 if v is None else known.setdefault(v, len(known)) for v in values], np.intp)


def _floats(values: Iterable[float | None]) -> NDArray[np.float64]:
    import numpy as np

    return np.array([np.nan if v is None else v for v in values], np.float64)


def _agree(codes: Codes, i: Places, j: Places) -> Floats:
    import numpy as np

    a, b = codes[i], codes[j]
    return np.asarray(np.where((a < 0) | (b < 0), 0.0, np.where(a == b, 1.0, -1.0)), np.float32)


def _same(codes: Codes, i: Places, j: Places) -> NDArray[np.bool_]:
    import numpy as np

    return np.asarray((codes[i] == codes[j]) & (codes[i] >= 0))


def _equal(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Equal numbers, or nothing stated on both sides."""
    import numpy as np

    return np.asarray((a == b) | (np.isnan(a) & np.isnan(b)))


def same_amount(a: Quantity | None, b: Quantity | None) -> float:
    """1 where both have a unit and are the same amount, -1 where they are not, 0 where no unit says."""
    if a is None or b is None or a.base is None or b.base is None:
        return 0.0
    return 1.0 if a.dimension == b.dimension and a.base and _near(a.base, b.base) else -1.0


def _near(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=1e-6)


def index_agreement(a: Sequence[str], b: Sequence[str]) -> float:
    """1 where both names hold the same numbers, -1 where other ones, 0 where neither holds any."""
    x, y = [w for w in a if w.isdigit()], [w for w in b if w.isdigit()]
    return 0.0 if not x and not y else 1.0 if x == y else -1.0
