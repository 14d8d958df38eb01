"""One name that became several, several that became one: names that differ by one word at one place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from asflown.core.carry.matching.reading import Reading


@dataclass(frozen=True)
class Family:
    """A name and those that have one word more; positions in their catalogs.

    Attributes
    ----------
    words
        The word each of ``many`` has more, in their order.
    """

    one: int
    many: tuple[int, ...]
    words: tuple[str, ...]


def families(
    single: Sequence[Reading], several: Sequence[Reading], ones: Iterable[int], many: Collection[int]
) -> list[Family]:
    """Names of ``ones`` beside two or more of ``many`` that hold the same words and one more at one place.

    They must be of one kind and one unit where these are stated. With old names as ``ones`` these may be
    splits, with new ones merges.
    """
    by_rest: dict[tuple[tuple[str, ...], int], list[tuple[int, str]]] = defaultdict(list)
    for j in sorted(many):
        words = several[j].words
        for at, word in enumerate(words):
            by_rest[words[:at] + words[at + 1 :], at].append((j, word))
    made = []
    for i in ones:
        found = [
            _alike(single[i], several, by_rest.get((single[i].words, at), [])) for at in _places(single[i])
        ]
        best = max(found, key=len, default=[])
        if len(best) >= 2:
            made.append(Family(i, tuple(j for j, _ in best), tuple(word for _, word in best)))
    return made


def _places(reading: Reading) -> range:
    return range(len(reading.words) + 1) if len(reading.words) >= 2 else range(0)


def _alike(
    one: Reading, several: Sequence[Reading], found: Iterable[tuple[int, str]]
) -> list[tuple[int, str]]:
    """Those of the same kind and unit, each with a word of its own."""
    alike: Mapping[str, int] = {
        word: j
        for j, word in found
        if one.kind in (None, several[j].kind) and (one.unit is None or one.unit == several[j].unit)
    }
    return [(j, word) for word, j in alike.items()]
