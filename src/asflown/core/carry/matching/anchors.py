"""Where the neighbours went: positions and groups of parameters whose place in the new release is known."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Mapping, Sequence

from asflown.core.carry.matching.reading import Reading

#: What a vote counts for when nothing of the group is known.
UNKNOWN = -0.2


class Anchors:
    """Old parameters whose place is taken as known, each with how sure it is.

    Parameters
    ----------
    same
        Old to new position of identical names; sure.
    found
        Old position to new position and probability, from an earlier look.
    """

    def __init__(
        self,
        old: Sequence[Reading],
        new: Sequence[Reading],
        same: Mapping[int, int],
        found: Mapping[int, tuple[int, float]] | None = None,
    ) -> None:
        self._old, self._new = old, new
        self._found = dict(found or {})
        self._place = {**same, **{i: j for i, (j, _) in self._found.items()}}
        self._order = sorted(self._place)
        self._groups = _Votes()
        self._firsts = _Votes()
        for i, j in self._place.items():
            weight = self._weight(i)
            self._groups.add(old[i].group, new[j].group, weight)
            if old[i].words and new[j].words:
                self._firsts.add(old[i].words[0], new[j].words[0], weight)

    def _weight(self, i: int) -> float:
        return self._found[i][1] if i in self._found else 1.0

    def distance(self, i: int, j: int) -> float:
        """How far ``j`` lies from where the nearest anchors point, log(1 + places)."""
        at = bisect_left(self._order, i)
        after = at + 1 if at < len(self._order) and self._order[at] == i else at
        near = [
            abs((j - self._place[anchor]) - (i - anchor))
            for place in (at - 1, after)
            if 0 <= place < len(self._order)
            for anchor in (self._order[place],)
        ]
        return math.log1p(min(near)) if near else math.log1p(len(self._new) / 4)

    def group_vote(self, i: int, j: int) -> float:
        """Share of the other anchors of the old group that went to the new one's group."""
        return self._vote(self._groups, i, j, self._old[i].group, self._new[j].group)

    def first_vote(self, i: int, j: int) -> float:
        """The same for the first words of the names."""
        if not self._old[i].words or not self._new[j].words:
            return 0.0
        return self._vote(self._firsts, i, j, self._old[i].words[0], self._new[j].words[0])

    def _vote(self, votes: _Votes, i: int, j: int, before: str, after: str) -> float:
        own = self._found[i][1] if i in self._found else 0.0
        own_here = own if self._place.get(i) == j else 0.0
        return votes.share(before, after, own, own_here)


class _Votes:
    """Weighted counts of (before, after)."""

    def __init__(self) -> None:
        self._pairs: dict[tuple[str, str], float] = defaultdict(float)
        self._all: dict[str, float] = defaultdict(float)

    def add(self, before: str, after: str, weight: float) -> None:
        self._pairs[before, after] += weight
        self._all[before] += weight

    def share(self, before: str, after: str, own: float, own_here: float) -> float:
        """Share without the pair's own vote; :data:`UNKNOWN` where nobody else voted."""
        others = self._all.get(before, 0.0) - own
        if others <= 0.05:
            return UNKNOWN
        return max(0.0, self._pairs.get((before, after), 0.0) - own_here) / (others + 0.5)
