"""The port plan: what goes where, what must be given up, and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import islice

from asflown.core.ports.asked import Asked, Way
from asflown.core.ports.board import Board
from asflown.core.ports.compile import Compiled, Ease, Flash, compiled
from asflown.core.ports.conflict import smallest_conflict
from asflown.core.ports.problem import Solution
from asflown.core.ports.processor import Processor
from asflown.core.ports.reason import Reason, reason_of
from asflown.core.ports.solve import solve

#: Ways out that are shown.
MOST_WAYS = 5


@dataclass(frozen=True)
class Placed:
    """Where a thing goes.

    Attributes
    ----------
    place
        Port, output, input or bus; ``None`` for a thing on the board or a function.
    was
        Where it is wired now, ``None`` where that is not known.
    lanes
        DMA request and the stream or channel that serves it.
    without_dma
        Whether it wants DMA, or would be better with it, and has none.
    left_off
        Whether it has to be left off.
    """

    name: str
    device: str | None
    kind: str | None
    place: str | None
    was: str | None
    way: Way | None
    lanes: tuple[tuple[str, str], ...] = ()
    functions: tuple[str, ...] = ()
    without_dma: bool = False
    left_off: bool = False

    @property
    def moves(self) -> bool:
        """Whether a wire has to move."""
        return self.was is not None and self.place is not None and self.was != self.place


@dataclass(frozen=True)
class WayOut:
    """What could be given up so that the rest works, and the plan then."""

    eases: tuple[Ease, ...]
    placed: tuple[Placed, ...]

    @property
    def said(self) -> str:
        """What is given up, in words."""
        return "; ".join(ease.name for ease in self.eases)

    @property
    def cost(self) -> int:
        """What it costs, in the plan's own order."""
        return sum(ease.cost for ease in self.eases)


@dataclass(frozen=True)
class PortPlan:
    """What a board can carry of what is asked.

    Attributes
    ----------
    placed
        As it stays wired; empty where that does not work.
    reason
        Why it does not work, ``None`` where it does.
    ways_out
        The least first.
    functions
        Optional functions to include, each with its flash in bytes (``None``: not stated).
    flash_room
        Bytes there are for them; ``None``: not stated.
    spare
        Kind and name of places that stay free.
    """

    board: Board
    processor: Processor
    placed: tuple[Placed, ...]
    reason: Reason | None
    ways_out: tuple[WayOut, ...]
    functions: Mapping[str, int | None]
    flash_room: int | None
    spare: tuple[tuple[str, str], ...]

    @property
    def works(self) -> bool:
        """Whether everything works as it is wired."""
        return self.reason is None

    @property
    def shown(self) -> tuple[Placed, ...]:
        """The plan, or that of the best way out."""
        return self.placed or (self.ways_out[0].placed if self.ways_out else ())

    @property
    def flash_left(self) -> int | None:
        """Bytes left with the functions included; ``None`` where something is not stated."""
        taken = list(self.functions.values())
        if self.flash_room is None or any(item is None for item in taken):
            return None
        return self.flash_room - sum(item or 0 for item in taken)


def plan_ports(
    board: Board,
    processor: Processor,
    asked: Iterable[Asked],
    flash: Flash,
    functions: Iterable[str] = (),
) -> PortPlan:
    """Plan everything asked of a board.

    What is wired stays where it is if that works; else the smallest conflict is found, and the least that
    could be given up.
    """
    things = tuple(asked)
    wanted = tuple(functions)
    made = compiled(board, processor, things, flash, wanted)
    by_name = {thing.name: thing for thing in things}
    found = solve(made.problem)
    if found is not None:
        placed = _placed(found, made, by_name, processor)
        return _plan(board, processor, flash, placed, None, ())
    conflict = smallest_conflict(made.problem)
    assert conflict is not None
    reason = reason_of(made, conflict, processor)
    ways = tuple(
        WayOut(
            tuple(sorted((made.eases[name] for name in way.eased), key=lambda ease: (ease.cost, ease.name))),
            _placed(way, made, by_name, processor),
        )
        for way in islice(_ways(made), MOST_WAYS)
    )
    shown = ways[0].placed if ways else ()
    return replace(_plan(board, processor, flash, shown, reason, ways), placed=())


def _ways(made: Compiled) -> Iterable[Solution]:
    """Ways to give something up, the least first; none holds another."""
    costs = {name: ease.cost for name, ease in made.eases.items()}
    # of what costs the same the first in the order of the devices comes first, whatever the solver does
    ranked = {name: 1000 * cost + rank for rank, (name, cost) in enumerate(costs.items())}
    least = replace(made.problem.easing(ranked), levels=0)
    before: list[frozenset[str]] = []
    while True:
        found = solve(least, without=before)
        if found is None:
            return
        before.append(found.eased)
        # the best plan with just that given up
        best = solve(made.problem.easing({name: costs[name] for name in found.eased}))
        assert best is not None
        yield best


def _plan(
    board: Board,
    processor: Processor,
    flash: Flash,
    placed: tuple[Placed, ...],
    reason: Reason | None,
    ways: tuple[WayOut, ...],
) -> PortPlan:
    inside = dict.fromkeys(name for item in placed for name in item.functions)
    taken = {item.place for item in placed}
    spare = tuple((kind, name) for kind, name in board.places() if name not in taken)
    return PortPlan(
        board,
        processor,
        placed,
        reason,
        ways,
        {name: flash.takes.get(name) for name in inside},
        flash.room,
        spare,
    )


def _placed(
    found: Solution, made: Compiled, by_name: Mapping[str, Asked], processor: Processor
) -> tuple[Placed, ...]:
    lanes = _lanes(found, made, processor)
    result = []
    for demand, option in found.chosen.items():
        meant = made.meant[demand, option.name]
        thing = by_name.get(demand)
        result.append(
            Placed(
                demand,
                thing.device if thing else None,
                thing.kind if thing else None,
                meant.place,
                thing.place if thing else None,
                meant.way,
                tuple((request, lanes[request]) for request in meant.requests if request in lanes),
                meant.functions,
                meant.without_dma,
                meant.is_left_off,
            )
        )
    return tuple(result)


def _lanes(found: Solution, made: Compiled, processor: Processor) -> dict[str, str]:
    """The stream of each request: as chosen, or behind a multiplexer the next free one of its group."""
    lanes: dict[str, str] = {}
    free = {group: list(names) for group, names in processor.groups.items()}
    for demand, option in found.chosen.items():
        for request in made.meant[demand, option.name].requests:
            if request in lanes:
                continue
            chosen = option.modes.get(f"request {request}")
            lanes[request] = chosen or free[processor.behind[request]].pop(0)
    return lanes
