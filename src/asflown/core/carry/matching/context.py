"""The second look at a pair: its rivals, and what the first look said of all the others."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from asflown.core.carry.matching.anchors import Anchors
from asflown.core.carry.matching.features import Look
from asflown.core.carry.matching.systematic import Change

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from asflown.core.carry.matching.tables import Floats

#: What :func:`second_look` adds, in this order.
CONTEXT = (
    "first_look", "ahead_of_old", "ahead_of_new", "rival_old", "rival_new", "near_found", "group_found",
    "change_found", "words_found", "words_in_texts", "first_word_found", "found_share",
)  # fmt: skip
#: A pair counts as found when it is the best for both its names and at least this likely.
FOUND = 0.3
#: No log-odds below this says more.
LEAST = -12.0


Parts = Sequence[tuple[tuple[str, ...], tuple[str, ...]]]


def exchanged(looked: Look) -> Parts:
    """Words that only the old and only the new name of each pair has, each sorted."""
    pairs = zip(looked.pairs.old.tolist(), looked.pairs.new.tolist(), strict=True)
    sides = [frozenset(r.words) for r in looked.old], [frozenset(r.words) for r in looked.new]
    return [
        (tuple(sorted(sides[0][i] - sides[1][j])), tuple(sorted(sides[1][j] - sides[0][i]))) for i, j in pairs
    ]


def replaced_in_texts(parts: Parts, texts: Mapping[tuple[str, str], float]) -> list[float]:
    """log(1 + times) a word gone was replaced by a word come in descriptions, for every pair.

    Parameters
    ----------
    texts
        See `systematic.described_changes`.
    """
    if not texts:
        return [0.0] * len(parts)
    return [
        math.log1p(max((texts.get((x, y), 0.0) for x in gone for y in come), default=0.0))
        for gone, come in parts
    ]


def second_look(
    looked: Look,
    first: Floats,
    believed: Floats,
    parts: Parts,
    in_texts: Sequence[float],
) -> Floats:
    """Numbers about each pair in the light of all the others; shape (pairs, len(CONTEXT)).

    Parameters
    ----------
    first
        Log-odds of the first look, shape (pairs,).
    believed
        Log-odds that decide which pairs count as found; the first look's, or a later one's.
    parts, in_texts
        See :func:`exchanged` and :func:`replaced_in_texts`.
    """
    import numpy as np

    pairs = looked.pairs
    i, j = pairs.old, pairs.new
    sure = (1 / (1 + np.exp(-np.clip(believed, -60, 60)))).astype(np.float32)
    found = _found(looked, believed, sure)
    rival_old, rival_new = (np.maximum(rivals(at, first), LEAST) for at in (i, j))
    anchors = Anchors(
        looked.old,
        looked.new,
        looked.same,
        {int(i[k]): (int(j[k]), float(sure[k])) for k in np.flatnonzero(found)},
    )
    habits = _Habits(looked.changes, parts, found, sure)
    share = float(sure[found].sum())
    lost = max(1, len(looked.lost))
    rows = []
    for k, (a, b) in enumerate(zip(i.tolist(), j.tolist(), strict=True)):
        own = float(sure[k]) if found[k] else 0.0
        rows.append(
            (
                anchors.distance(a, b),
                anchors.group_vote(a, b),
                habits.change(k, own),
                habits.words(k, own),
                in_texts[k],
                anchors.first_vote(a, b),
                max(0.0, share - own) / lost,
            )
        )
    beside = np.array(rows, np.float32).reshape(len(rows), 7)
    return np.column_stack(
        [first, first - rival_old, first - rival_new, rival_old, rival_new, beside]
    ).astype(np.float32)


def rivals(at: NDArray[np.intp], value: Floats) -> Floats:
    """For every pair the best value of another pair at the same place; -inf where there is none."""
    import numpy as np

    size = int(at.max()) + 1 if len(at) else 0
    best = np.full(size, -np.inf)
    np.maximum.at(best, at, value)
    leads = value >= best[at]
    second = np.full(size, -np.inf)
    seen = np.zeros(size, bool)
    rest = np.ones(len(at), bool)
    for k in np.flatnonzero(leads):
        if not seen[at[k]]:
            seen[at[k]] = True
            rest[k] = False
    np.maximum.at(second, at[rest], value[rest])
    return np.where(rest, best[at], second[at]).astype(np.float32)


def _found(looked: Look, believed: Floats, sure: Floats) -> NDArray[np.bool_]:
    import numpy as np

    pairs = looked.pairs
    ahead = (believed > rivals(pairs.old, believed)) & (believed > rivals(pairs.new, believed))
    return np.asarray(ahead & (sure > FOUND) & ~pairs.taken)


class _Habits:
    """Changes of words among the pairs found: whole changes, and word by word."""

    def __init__(
        self, changes: Sequence[Change], parts: Parts, found: NDArray[np.bool_], sure: Floats
    ) -> None:
        import numpy as np

        self._changes, self._parts = changes, parts
        self._whole: dict[Change, float] = defaultdict(float)
        self._single: dict[tuple[str, str], float] = defaultdict(float)
        for k in np.flatnonzero(found).tolist():
            gone, come = parts[k]
            self._whole[changes[k]] += float(sure[k])
            for word in gone or ("",):
                for other in come or ("",):
                    self._single[word, other] += float(sure[k])

    def change(self, k: int, own: float) -> float:
        """log(1 + probability mass of other pairs with the same change)."""
        return math.log1p(max(0.0, self._whole.get(self._changes[k], 0.0) - own))

    def words(self, k: int, own: float) -> float:
        """Mean over the words gone of log(1 + mass of other pairs that replace it by a word come)."""
        gone, come = self._parts[k]
        if not gone and not come:
            return 0.0
        total = 0.0
        for word in gone or ("",):
            best = max(self._single.get((word, other), 0.0) for other in come or ("",))
            total += math.log1p(max(0.0, best - own))
        return total / len(gone or ("",))
