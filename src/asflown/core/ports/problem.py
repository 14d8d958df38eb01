"""The question in the abstract: demands, the ways to serve each, and what these ways share.

Nothing here knows of boards. A way (:class:`Option`) can hold things alone, hold things together with others
that want them in the same mode, and claim room that is counted once for each item.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace


@dataclass(frozen=True, slots=True)
class Claim:
    """Room taken of a capacity; an item is counted once, however many ask for it."""

    capacity: str
    item: str
    amount: int = 1


@dataclass(frozen=True)
class Option:
    """One way to serve a demand.

    Attributes
    ----------
    name
        Unique within its demand.
    takes
        Resources held alone.
    modes
        Resource to the mode it must be in; whoever shares it must want the same mode.
    claims
        Room asked for.
    eases
        What must be given up for this way, by name (see `Problem.eases`).
    costs
        By level, most important first; missing levels cost nothing.
    """

    name: str
    takes: frozenset[str] = frozenset()
    modes: Mapping[str, str] = field(default_factory=dict)
    claims: frozenset[Claim] = frozenset()
    eases: frozenset[str] = frozenset()
    costs: tuple[int, ...] = ()


@dataclass(frozen=True)
class Demand:
    """Something that must be served by exactly one of its options."""

    name: str
    options: tuple[Option, ...]


@dataclass(frozen=True)
class Problem:
    """Demands to be served at the same time.

    Attributes
    ----------
    capacities
        Room there is, by name. A claim on one that is not here is not limited.
    eases
        What may be given up, and what that costs (above 0). An option whose eases are not all here cannot
        be chosen: without eases, nothing is given up.
    levels
        How many levels of costs the options have.
    """

    demands: tuple[Demand, ...]
    capacities: Mapping[str, int] = field(default_factory=dict)
    eases: Mapping[str, int] = field(default_factory=dict)
    levels: int = 0

    def only(self, names: Iterable[str]) -> Problem:
        """The same with some of its demands."""
        wanted = set(names)
        return replace(self, demands=tuple(demand for demand in self.demands if demand.name in wanted))

    def easing(self, eases: Mapping[str, int]) -> Problem:
        """The same with other things that may be given up."""
        return replace(self, eases=eases)


@dataclass(frozen=True)
class Solution:
    """An option for every demand, the best there is.

    Attributes
    ----------
    chosen
        Option by demand.
    eased
        What had to be given up.
    costs
        What giving up cost, then the sum of each level.
    """

    chosen: Mapping[str, Option]
    eased: frozenset[str]
    costs: tuple[int, ...]


def holds(problem: Problem, chosen: Mapping[str, Option]) -> bool:
    """Whether a choice of options breaks no rule of the problem."""
    held: set[str] = set()
    modes: dict[str, str] = {}
    claimed: dict[tuple[str, str], int] = {}
    for option in chosen.values():
        if held & option.takes or not option.eases <= set(problem.eases):
            return False
        held |= option.takes
        for resource, mode in option.modes.items():
            if modes.setdefault(resource, mode) != mode:
                return False
        for claim in option.claims:
            key = (claim.capacity, claim.item)
            claimed[key] = max(claimed.get(key, 0), claim.amount)
    used: dict[str, int] = {}
    for (capacity, _), amount in claimed.items():
        used[capacity] = used.get(capacity, 0) + amount
    return all(amount <= problem.capacities.get(name, amount) for name, amount in used.items())


def costs_of(problem: Problem, chosen: Mapping[str, Option]) -> tuple[int, ...]:
    """What giving up costs, then each level's sum."""
    eased = frozenset().union(*(option.eases for option in chosen.values()))
    levels = [
        sum(option.costs[level] for option in chosen.values() if level < len(option.costs))
        for level in range(problem.levels)
    ]
    return (sum(problem.eases[name] for name in eased), *levels)
