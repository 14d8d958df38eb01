"""Changes of words that happen more than once in one pair of catalogs."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from asflown.core.carry.matching.reading import Reading


@dataclass(frozen=True, slots=True)
class Change:
    """What differs between two names once their common beginning and end are taken off.

    Attributes
    ----------
    at_start
        Whether the names differ from their first word on.
    """

    gone: tuple[str, ...]
    come: tuple[str, ...]
    at_start: bool


def change_between(old: Sequence[str], new: Sequence[str]) -> Change:
    """The change of words between two names.

    Examples
    --------
    >>> change_between(("tilt", "rate", "max"), ("lean", "rate", "max"))
    Change(gone=('tilt',), come=('lean',), at_start=True)
    """
    shorter = min(len(old), len(new))
    begin = 0
    while begin < shorter and old[begin] == new[begin]:
        begin += 1
    end = 0
    while end < shorter - begin and old[-1 - end] == new[-1 - end]:
        end += 1
    return Change(tuple(old[begin : len(old) - end]), tuple(new[begin : len(new) - end]), begin == 0)


def support(
    changes: Sequence[Change], rows: Sequence[int], lost: Iterable[Reading]
) -> list[tuple[float, float, float]]:
    """How often each pair's change of words is possible elsewhere.

    Returns
    -------
    list of (supporters, share, orphans)
        log(1 + other lost names the same change leads to a new name); their share among the lost names
        that hold the words gone; log(1 + lost names that hold them and that it leads nowhere).
    """
    known: dict[Change, int] = {}
    ids = [known.setdefault(change, len(known)) for change in changes]
    supporters = Counter(one for one, _ in {*zip(ids, rows, strict=True)})
    holding = _Holding(lost)
    made: dict[int, tuple[float, float, float]] = {}
    for change, one in known.items():
        others = supporters[one] - 1
        holders = holding.count(change.gone, change.at_start)
        share = others / max(1, holders) if others else 0.0
        orphans = math.log1p(max(0, holders - others - 1)) if change.gone else 0.0
        made[one] = (math.log1p(others), share, orphans)
    return [made[one] for one in ids]


class _Holding:
    """Which names hold which words."""

    def __init__(self, readings: Iterable[Reading]) -> None:
        self._texts = [f" {' '.join(reading.words)} " for reading in readings]
        self._by_word: dict[str, list[str]] = defaultdict(list)
        self._counts: dict[tuple[tuple[str, ...], bool], int] = {}
        for text in self._texts:
            for word in set(text.split()):
                self._by_word[word].append(text)

    def count(self, words: tuple[str, ...], at_start: bool) -> int:
        """How many names hold the words one after the other (at their start)."""
        key = (words, at_start)
        if key not in self._counts:
            self._counts[key] = self._count(words, at_start)
        return self._counts[key]

    def _count(self, words: tuple[str, ...], at_start: bool) -> int:
        if not words:
            return len(self._texts)
        part = f" {' '.join(words)} "
        texts = min((self._by_word[word] for word in words), key=len)
        return sum(text.startswith(part) if at_start else part in text for text in texts)


def described_changes(
    old: Sequence[Reading], new: Sequence[Reading], same: Mapping[int, int]
) -> Mapping[tuple[str, str], float]:
    """Words replaced in the descriptions of parameters that kept their name: (before, after) -> times."""
    counts: Counter[tuple[str, str]] = Counter()
    for i, j in same.items():
        before, after = set(old[i].text), set(new[j].text)
        gone, come = before - after, after - before
        if before and after and 0 < len(gone) <= 3 and 0 < len(come) <= 3:
            for x in gone:
                for y in come:
                    counts[x, y] += 1 / max(len(gone), len(come))  # type: ignore[assignment]
    return {pair: count for pair, count in counts.items() if count >= 1}
