"""What is written to the aircraft, and in which order."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from asflown.core.carry.dispositions import Disposition, Left
from asflown.core.catalog import Catalog, ParameterDef, worst
from asflown.core.finding import Finding
from asflown.core.plan import Plan
from asflown.core.record import Key
from asflown.core.rings import rings
from asflown.core.values import same_value

#: A name within one bank; its indexes are written together.
_Block = tuple[str, str | None]


@dataclass(frozen=True)
class Ordered:
    """Settings in writing order.

    Attributes
    ----------
    findings
        Rings of needs, each named; their settings keep the catalog's order.
    """

    items: tuple[Left, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A setting that is not written, and why."""

    key: Key
    why: str


@dataclass(frozen=True)
class Selection:
    """What of a plan is written and what is not.

    Attributes
    ----------
    at_factory
        How many settings are not written because the factory value is the planned one.
    """

    write: tuple[Left, ...]
    left_out: tuple[LeftOut, ...] = ()
    at_factory: int = 0


def selection(plan: Plan, catalog: Catalog | None, everything: bool) -> Selection:
    """What of a plan is written.

    Parameters
    ----------
    plan
        A plan with no open line.
    catalog
        The new release's; gives precision, factory values, and what the device makes itself.
    everything
        Write every planned setting; otherwise only what differs from the new release's factory value
        at the precision the device stores. A setting whose factory value is not stated is written.

    Raises
    ------
    ValueError
        When a line is still open.
    """
    write: list[Left] = []
    left_out: list[LeftOut] = []
    at_factory = 0
    for line in plan.lines:
        if line.is_open:
            raise ValueError(f"line {line.id} is still to decide; nothing can be written")
        for item in line.new:
            parameter = catalog.by_name.get(item.key.name) if catalog else None
            why = _not_written(item, parameter, line.disposition)
            if why is not None:
                left_out.append(LeftOut(item.key, why))
            elif not everything and is_factory(item, catalog, parameter):
                at_factory += 1
            else:
                write.append(item)
    return Selection(tuple(write), tuple(left_out), at_factory)


def to_write(plan: Plan, catalog: Catalog | None, everything: bool) -> tuple[Left, ...]:
    """The settings of :func:`selection` that are written."""
    return selection(plan, catalog, everything).write


def _not_written(item: Left, parameter: ParameterDef | None, disposition: Disposition) -> str | None:
    if disposition is Disposition.REDO or (item.value is None and parameter and parameter.redo):
        how = parameter.redo if parameter and parameter.redo else "made anew on the aircraft"
        return f"redo: {how}"
    if parameter and parameter.read_only:
        return "the device shows it and does not take it"
    if item.value is None:
        return "the device makes it itself"
    return None


def is_factory(item: Left, catalog: Catalog | None, parameter: ParameterDef | None = None) -> bool:
    """Whether the planned value is the new release's factory value, at the device's precision."""
    factory = item.factory
    if factory is None and catalog is not None:
        factory = catalog.factory_value(item.key)
    return item.value is not None and factory is not None and same_value(item.value, factory, parameter)


def writing_order(lefts: Sequence[Left], catalog: Catalog | None) -> Ordered:
    """Put settings into writing order: what others need comes first.

    Parameters
    ----------
    lefts
        Settings to write, each key once.
    catalog
        Gives ``needs`` and ``unit_from`` of each parameter; ``None`` leaves the order as it is, bank by bank.

    Returns
    -------
    Ordered
        Outside banks first, then bank by bank, in catalog order within a bank; a bank is left before
        it is finished only where a need asks for it. A ring of needs is a finding, never an error.
    """
    blocks: dict[_Block, list[Left]] = {}
    for item in lefts:
        blocks.setdefault((item.key.name, item.key.bank), []).append(item)
    place = _places(blocks, catalog)
    before = _needs(blocks, catalog)
    found = rings(before)
    for ring in found:
        members = set(ring)
        for block in ring:
            before[block] = [other for other in before[block] if other not in members]
    sequence = _walk(before, place)
    items = tuple(item for block in sequence for item in _by_index(blocks[block], catalog))
    return Ordered(items, tuple(_ring_finding(ring, place, catalog) for ring in found))


def out_of_order(keys: Sequence[Key], catalog: Catalog | None) -> tuple[tuple[Key, Key], ...]:
    """Pairs of a setting and one it needs that stands after it, in a given order.

    Rings of needs are left out: no order keeps those.
    """
    blocks: dict[_Block, int] = {}
    for place, key in enumerate(keys):
        blocks[(key.name, key.bank)] = place
    before = _needs(blocks, catalog)
    ring_of = {block: number for number, ring in enumerate(rings(before)) for block in ring}
    return tuple(
        (Key(*block), Key(*need))
        for block, needed in before.items()
        for need in needed
        if blocks[need] > blocks[block] and ring_of.get(block, -1) != ring_of.get(need, -2)
    )


def _places(blocks: Iterable[_Block], catalog: Catalog | None) -> dict[_Block, tuple[int, int, int]]:
    """``(bank, catalog place, given place)`` of each block: the order where no need asks otherwise."""
    names = {p.name: place for place, p in enumerate(catalog.parameters)} if catalog else {}
    banks: dict[str | None, int] = {None: 0}
    for parameter in catalog.parameters if catalog else ():
        for bank in parameter.banks:
            banks.setdefault(bank, len(banks))
    return {
        (name, bank): (banks.setdefault(bank, len(banks)), names.get(name, len(names)), given)
        for given, (name, bank) in enumerate(blocks)
    }


def _needs(blocks: Mapping[_Block, object], catalog: Catalog | None) -> dict[_Block, list[_Block]]:
    """For each block, the blocks that must be written before it."""
    banks_of: dict[str, list[str | None]] = {}
    for name, bank in blocks:
        banks_of.setdefault(name, []).append(bank)
    before: dict[_Block, list[_Block]] = {}
    for name, bank in blocks:
        parameter = catalog.by_name.get(name) if catalog else None
        wanted = _needed_names(parameter)
        before[(name, bank)] = [
            (need, where) for need in wanted for where in _same_bank(banks_of.get(need, []), bank)
        ]
    return before


def _needed_names(parameter: ParameterDef | None) -> tuple[str, ...]:
    if parameter is None:
        return ()
    names = dict.fromkeys([*parameter.needs, *([parameter.unit_from] if parameter.unit_from else [])])
    return tuple(name for name in names if name != parameter.name)


def _same_bank(banks: list[str | None], bank: str | None) -> list[str | None]:
    """Where a needed name stands for a setting in a bank: its own bank and outside, or else everywhere."""
    near = [where for where in banks if where is None or where == bank]
    return near or banks


def _walk(
    before: Mapping[_Block, Sequence[_Block]], place: Mapping[_Block, tuple[int, int, int]]
) -> Iterator[_Block]:
    """Kahn's order, staying in the current bank as long as something there is ready."""
    waiting = {block: len(needed) for block, needed in before.items()}
    opens: dict[_Block, list[_Block]] = {}
    for block, needed in before.items():
        for other in needed:
            opens.setdefault(other, []).append(block)
    ready: dict[int, list[tuple[tuple[int, int, int], _Block]]] = {}

    def add(block: _Block) -> None:
        heapq.heappush(ready.setdefault(place[block][0], []), (place[block], block))

    for block, count in waiting.items():
        if not count:
            add(block)
    bank = 0
    while any(ready.values()):
        if not ready.get(bank):
            bank = min(number for number, heap in ready.items() if heap)
        block = heapq.heappop(ready[bank])[1]
        yield block
        for other in opens.get(block, ()):
            waiting[other] -= 1
            if not waiting[other]:
                add(other)


def _by_index(items: list[Left], catalog: Catalog | None) -> list[Left]:
    parameter = catalog.by_name.get(items[0].key.name) if catalog else None
    place = {index: number for number, index in enumerate(parameter.indexes)} if parameter else {}
    return sorted(items, key=lambda item: place.get(item.key.index or "", len(place)))


def _ring_finding(
    ring: Sequence[_Block], place: Mapping[_Block, tuple[int, int, int]], catalog: Catalog | None
) -> Finding:
    members = sorted(ring, key=lambda block: place[block])
    names = [str(Key(name, bank)) for name, bank in members]
    known = [catalog.by_name[name] for name, _ in members if catalog and name in catalog.by_name]
    return Finding(
        "carry-over",
        ", ".join(names),
        worst(*(parameter.consequence for parameter in known)),
        f"{len(names)} settings each need another one first: {' -> '.join([*names, names[0]])}; "
        "they are written in catalog order, and the read-back shows whether that held",
        ("check these settings in the read-back", "correct the needs in the release's overlay file"),
    )
