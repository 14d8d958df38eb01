"""The smallest set of demands that cannot be served together.

By implicit hitting sets: a set of demands that hits every way of mending found so far is the smallest that
can be a conflict; either it is one, or the least that mends it is one more way of mending (Ignatiev, Previti,
Liffiton, Marques-Silva: Smallest MUS extraction with minimal hitting set dualization, CP 2015).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from asflown.core.ports.problem import Demand, Option, Problem
from asflown.core.ports.solve import solve

_LEFT = "\N{EMPTY SET}"
#: Fewer come first, and of as many the ones that were named first: the same answer from any solver.
_FEWEST_FIRST = 10_000


def smallest_conflict(problem: Problem) -> tuple[str, ...] | None:
    """Names of the fewest demands that cannot be served together, in the problem's order.

    Returns
    -------
    tuple of str or None
        ``None`` where all can be served.
    """
    names = [demand.name for demand in problem.demands]
    mends: list[frozenset[str]] = []
    while True:
        hitting = _least_hitting(mends, names)
        mend = _least_mend(problem, hitting)
        if mend is None:
            return tuple(name for name in names if name in hitting)
        if not mend:
            return None
        mends.append(mend)


def _least_mend(problem: Problem, kept: Iterable[str]) -> frozenset[str] | None:
    """The fewest demands to leave out so that all that are kept work; ``None``: they do not."""
    wanted = set(kept)
    demands = tuple(
        demand
        if demand.name in wanted
        else Demand(demand.name, (*demand.options, Option(_LEFT, eases=frozenset({f"{_LEFT}{demand.name}"}))))
        for demand in problem.demands
    )
    left = {
        f"{_LEFT}{demand.name}": _FEWEST_FIRST + rank
        for rank, demand in enumerate(problem.demands)
        if demand.name not in wanted
    }
    # whatever the problem itself eases stays as free as it is: only what is left out counts
    free = {name: 0 for name in problem.eases}
    found = solve(replace(problem, demands=demands, eases={**free, **left}, levels=0))
    if found is None:
        return None
    return frozenset(name.removeprefix(_LEFT) for name in found.eased if name in left)


def _least_hitting(sets: Sequence[frozenset[str]], names: Sequence[str]) -> frozenset[str]:
    """The fewest names of which every set has one."""
    demands = tuple(
        Demand(str(number), tuple(Option(name, eases=frozenset({name})) for name in names if name in one))
        for number, one in enumerate(sets)
    )
    ranked = {name: _FEWEST_FIRST + rank for rank, name in enumerate(names)}
    found = solve(Problem(demands, eases=ranked))
    assert found is not None
    return found.eased
