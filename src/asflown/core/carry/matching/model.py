"""The trained model: log-odds that a pair is a rename, from what is seen of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.core.carry.matching.context import exchanged, replaced_in_texts, second_look
from asflown.core.carry.matching.features import Look
from asflown.core.carry.matching.systematic import described_changes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from asflown.core.carry.matching.tables import Floats, Places

#: How often the second look is taken again with what it said itself.
AGAIN = 1
#: Pairs of an old name that get a second look; the rest have at most these log-odds.
SHORT, LEFT_OUT = 6, -6.0


@dataclass(frozen=True)
class Linear:
    """Logistic regression on standardised numbers; all of shape (features,) but the bias."""

    mean: tuple[float, ...]
    scale: tuple[float, ...]
    weight: tuple[float, ...]
    bias: float

    def log_odds(self, seen: Floats) -> Floats:
        """Log-odds of every row; shape (rows,)."""
        import numpy as np

        z = (seen - np.array(self.mean, np.float32)) / np.array(self.scale, np.float32)
        weighed = z * np.array(self.weight, np.float32)  # summed without BLAS: alike on every machine
        return np.asarray(weighed.sum(axis=1, dtype=np.float64) + self.bias, np.float32)


@dataclass(frozen=True)
class Trees:
    """Boosted regression trees (Friedman 2001); a leaf's children are the leaf itself.

    Attributes
    ----------
    feature, threshold, left, right, value
        One entry a node of all trees, one after the other; a row goes left where it is at most the threshold.
    roots
        First node of each tree.
    """

    feature: tuple[int, ...]
    threshold: tuple[float, ...]
    left: tuple[int, ...]
    right: tuple[int, ...]
    value: tuple[float, ...]
    roots: tuple[int, ...]
    bias: float
    depth: int

    def log_odds(self, seen: Floats) -> Floats:
        """Log-odds of every row; shape (rows,)."""
        import numpy as np

        feature = np.array(self.feature, np.intp)
        threshold = np.array(self.threshold)
        left, right = np.array(self.left, np.intp), np.array(self.right, np.intp)
        value = np.array(self.value)
        rows = np.arange(len(seen))
        total = np.full(len(seen), self.bias)
        for root in self.roots:
            node: NDArray[np.intp] = np.full(len(seen), root, np.intp)
            for _ in range(self.depth):
                goes_left = seen[rows, feature[node]] <= threshold[node]
                node = np.where(goes_left, left[node], right[node])
            total += value[node]
        return total.astype(np.float32)


@dataclass(frozen=True)
class Model:
    """Everything learned.

    Attributes
    ----------
    first
        On the first look alone.
    second, trees
        On the first and the second look; the mean of their log-odds is taken.
    """

    first: Linear
    second: Linear
    trees: Trees

    def log_odds(self, looked: Look) -> Floats:
        """Log-odds of every pair, shape (pairs,); one not looked at twice keeps the first look's.

        They hold for the usual share of renames: see `prior.prior_shift`.
        """
        import numpy as np

        first = self.first.log_odds(looked.features)
        if not len(first):
            return first
        places = shortlist(looked, first)
        short, begun = looked.only(places), first[places]
        parts = exchanged(short)
        in_texts = replaced_in_texts(parts, described_changes(looked.old, looked.new, looked.same))
        believed = begun
        for _ in range(1 + AGAIN):
            seen = np.column_stack([short.features, second_look(short, begun, believed, parts, in_texts)])
            believed = ((self.second.log_odds(seen) + self.trees.log_odds(seen)) / 2).astype(np.float32)
        made = np.minimum(first, LEFT_OUT)
        made[places] = believed
        return made


def shortlist(looked: Look, first: Floats) -> Places:
    """Places of the pairs worth a second look: the :data:`SHORT` likeliest of every old name."""
    import numpy as np

    order = np.lexsort((-first, looked.pairs.old))
    old = looked.pairs.old[order]
    begins = np.flatnonzero(np.r_[True, old[1:] != old[:-1]])
    rank = np.arange(len(old)) - np.repeat(begins, np.diff(np.r_[begins, len(old)]))
    return np.sort(order[rank < SHORT])


def numbers(text: str) -> tuple[float, ...]:
    """Numbers written one after the other."""
    return tuple(map(float, text.split()))


def whole_numbers(text: str) -> tuple[int, ...]:
    """Whole numbers written one after the other."""
    return tuple(map(int, text.split()))
