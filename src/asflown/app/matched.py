"""Two catalogs matched, in the groups a person looks at; every name of both stands in exactly one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from asflown.app.catalogs import Given
from asflown.core.carry.matching.result import Matching, Pair, PairKind
from asflown.core.carry.meaning import Kinship
from asflown.core.catalog import Catalog
from asflown.errors import Damaged


class Group(StrEnum):
    """What became of an old name, in the order it is looked at."""

    RENAMED = "other name"
    MEANING = "other meaning"
    FACTORY = "other factory value"
    UNKNOWN = "not sure"
    RETIRED = "retired"
    UNSTATED = "same name, nothing stated"
    UNCHANGED = "unchanged"


@dataclass(frozen=True)
class Matched:
    """Two catalogs and what matching says of them."""

    old: Given
    new: Given
    matching: Matching

    @cached_property
    def groups(self) -> Mapping[Group, tuple[Pair, ...]]:
        """The pairs of each group, in the old catalog's order; what has no pair is in :attr:`gone`."""
        made: dict[Group, list[Pair]] = {group: [] for group in Group}
        for pair in self.matching.pairs:
            made[group_of(pair)].append(pair)
        return {group: tuple(pairs) for group, pairs in made.items()}

    @cached_property
    def gone(self) -> tuple[str, ...]:
        """Old names that nothing resembles."""
        paired = {pair.old for pair in self.matching.pairs}
        return tuple(name for name in self.matching.retired if name not in paired)

    @cached_property
    def counts(self) -> Mapping[Group, int]:
        """Old names of each group."""
        named = {pair.old for pair in self.matching.pairs}
        made = {group: sum(_names(pair, named) for pair in pairs) for group, pairs in self.groups.items()}
        return {**made, Group.RETIRED: len(self.gone)}

    @cached_property
    def successors(self) -> frozenset[str]:
        """New names that a claimed pair leads to."""
        claimed = [pair for pair in self.matching.pairs if pair.is_claimed]
        further = (name for pair in claimed if pair.kind is PairKind.SPLIT for name in pair.others)
        return frozenset((*(pair.new for pair in claimed), *further))

    @property
    def adds_up(self) -> bool:
        """Whether every name of both catalogs is accounted for once."""
        new = len(self.successors) + len(self.matching.new)
        return (sum(self.counts.values()), new) == (
            len(self.old.catalog.parameters),
            len(self.new.catalog.parameters),
        )


def group_of(pair: Pair) -> Group:
    """Where a pair is looked at."""
    if not pair.is_claimed:
        return Group.UNKNOWN
    if pair.kind is not PairKind.SAME:
        return Group.RENAMED
    if pair.changed or pair.meaning.kinship not in (Kinship.SAME, Kinship.UNSTATED):
        return Group.MEANING
    if pair.default_shift is not None:
        return Group.FACTORY
    return Group.UNSTATED if pair.meaning.kinship is Kinship.UNSTATED else Group.UNCHANGED


def match_given(
    old: Given, new: Given, *, matcher: Callable[[Catalog, Catalog], Matching] | None = None
) -> Matched:
    """Match two catalogs.

    Raises
    ------
    Damaged
        When not every name is accounted for: such a result is not shown.
    """
    from asflown.core.carry.matching.match import match

    made = Matched(old, new, (matcher or match)(old.catalog, new.catalog))
    if not made.adds_up:
        raise Damaged(
            "the matching does not add up: a name is missing or stands twice",
            next_step="keep both catalogs and report it as a fault of asflown",
        )
    return made


def once(pairs: Iterable[Pair]) -> list[Pair]:
    """A merge once, though each of its old names has a pair."""
    made: list[Pair] = []
    seen: set[tuple[frozenset[str], str]] = set()
    for pair in pairs:
        key = (frozenset((pair.old, *pair.others)), pair.new)
        if pair.kind is PairKind.MERGE and key in seen:
            continue
        seen.add(key)
        made.append(pair)
    return made


def sure(value: float) -> str:
    """A confidence to two digits; only what is certain reads 1.00, and only what is excluded 0.00."""
    if 0 < value < 0.005:
        return "<0.01"
    return ">0.99" if 0.995 <= value < 1 else f"{value:.2f}"


def _names(pair: Pair, named: set[str]) -> int:
    """How many old names a pair accounts for: in a merge also those that have no pair of their own."""
    if pair.kind is not PairKind.MERGE:
        return 1
    return 1 + sum(name not in named for name in pair.others)
