"""What of a refit is looked at on the bench: each change with what should be seen, and the value to read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from asflown.core.bench.moves import Move
from asflown.core.bench.stale import Stale
from asflown.core.cards import Item, Measure
from asflown.core.carry.dispositions import Disposition, Left, Line
from asflown.core.catalog import Catalog, Consequence
from asflown.core.finding import Finding
from asflown.core.plan import Plan
from asflown.core.record import Key

_CHANGES_VALUE = frozenset({Disposition.CONVERT, Disposition.SPLIT, Disposition.MERGE})
_SERIOUS = frozenset({Consequence.SAFETY, Consequence.UNKNOWN})
#: Values a decision shows one by one; a larger group is told by its first names.
_SHOWN = 4


def redone(plan: Plan, new: Catalog | None, old: Catalog | None) -> tuple[Item, ...]:
    """Calibrations the plan has as *redo*: those that are made in one go are one item."""
    groups: dict[str, list[Line]] = {}
    for line in plan.lines:
        if line.disposition is Disposition.REDO:
            groups.setdefault(_how(line, new, old), []).append(line)
    return tuple(_redo(how, lines, new, old) for how, lines in groups.items())


def _how(line: Line, new: Catalog | None, old: Catalog | None) -> str:
    names = [*(item.key.name for item in line.new), *(item.key.name for item in line.old)]
    said = (
        catalog.by_name[name].redo
        for catalog in (new, old)
        for name in names
        if catalog and name in catalog.by_name and catalog.by_name[name].redo
    )
    return next(said, None) or line.why


def _redo(how: str, lines: Sequence[Line], new: Catalog | None, old: Catalog | None) -> Item:
    names = ", ".join(str(key) for line in lines for key in keys_of(line))
    was = ", ".join(
        f"{found.key} {found.value}{_unit(found.key.name, old)}" for line in lines for found in line.old
    )
    measures = tuple(
        Measure(str(key), _unit(key.name, new).strip(), setting=str(key))
        for line in lines
        for key in (item.key for item in line.new)
    )
    return Item(
        f"{how[:1].upper()}{how[1:]}: {names}",
        tuple(line.id for line in lines),
        f"The board says that it is done. Of the size it was: {was}."
        if was
        else "The board says that it is done.",
        measures,
    )


def stale(found: Sequence[Stale]) -> tuple[Item, ...]:
    """Calibrations that no longer hold though the plan carries them over."""
    return tuple(
        Item(
            f"{one.how[:1].upper()}{one.how[1:]}: {one.why}. Computed from samples: {one.command}",
            expect="The board says that it is done; level reads level, still reads nought.",
            measures=tuple(Measure(name, setting=name) for name in one.settings),
        )
        for one in found
    )


def moved(moves: Sequence[Move], ports: Sequence[Finding]) -> tuple[Item, ...]:
    """What sits elsewhere, and what does not go together on the board."""
    return (*map(_moved, moves), *map(_together, ports))


def _moved(move: Move) -> Item:
    measures = tuple(Measure(name, setting=name) for name in move.settings)
    if not move.is_wire:
        return Item(
            f"{move.subject} did {move.was} and does {move.now} now: see which wire is on it",
            expect="What is wired there is what it is set for, and it answers.",
            measures=measures,
        )
    if move.now == "not fitted":
        return Item(f"{move.subject} is no longer fitted (was: {move.was})", expect="Nothing waits for it.")
    return Item(
        f"{move.subject}: {move.was} → {move.now}. Pack and USB unplugged: see the wire, pull at it gently",
        expect=f"{move.subject} answers there, and nothing else on the board went silent.",
    )


def _together(found: Finding) -> Item:
    ways = f" Ways out: {'; '.join(found.ways_out)}." if found.ways_out else ""
    return Item(
        f"{found.subject}: {found.statement}.{ways}",
        expect="All of it works at the same time, or what does not is left off on purpose.",
    )


def changed(plan: Plan, new: Catalog | None, old: Catalog | None) -> tuple[Item, ...]:
    """Conversions that can hurt: the value to read, and what it should do."""
    return tuple(
        _changed(line, new, old)
        for line in plan.lines
        if line.disposition in _CHANGES_VALUE and line.consequence in _SERIOUS
    )


def _changed(line: Line, new: Catalog | None, old: Catalog | None) -> Item:
    text = f"{_was(line, old)} is now {_now(line, new)}"
    if line.consequence_why:
        text += f". {line.consequence_why[:1].upper()}{line.consequence_why[1:]}"
    if line.copied:
        text += f" ({line.copied})"
    return Item(text, (line.id,), measures=tuple(_planned(left, new) for left in line.new))


def retired(plan: Plan, old: Catalog | None) -> tuple[Item, ...]:
    """What the new release does not have any more."""
    return tuple(
        Item(f"{_was(line, old)} is gone: {line.consequence_why or line.why}", (line.id,))
        for line in plan.lines
        if line.disposition is Disposition.RETIRE and line.consequence.is_risky
    )


def decided(plan: Plan, new: Catalog | None) -> tuple[Item, ...]:
    """One item for each decision: a group and the option chosen for it."""
    groups: dict[tuple[str, str, str], list[Line]] = {}
    for line in plan.lines:
        if line.settled is not None:
            groups.setdefault((line.group, line.settled.option, line.settled.reason), []).append(line)
    return tuple(_decided(option, reason, lines, new) for (_, option, reason), lines in groups.items())


def _decided(option: str, reason: str, lines: Sequence[Line], new: Catalog | None) -> Item:
    names = [", ".join(map(str, keys_of(line))) for line in lines]
    more = f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
    lefts = [left for line in lines for left in line.new]
    return Item(
        f"Decided '{option}' for {', '.join(names[:_SHOWN])}{more}: {reason}",
        tuple(line.id for line in lines),
        measures=tuple(_planned(left, new) for left in lefts) if len(lines) <= _SHOWN else (),
    )


def keys_of(line: Line) -> tuple[Key, ...]:
    """What a line is called on the aircraft after the refit, or before it where it is gone."""
    return tuple(item.key for item in line.new) or tuple(item.key for item in line.old)


def _planned(left: Left, new: Catalog | None) -> Measure:
    return Measure(
        str(left.key), _unit(left.key.name, new).strip(), setting=str(left.key), planned=left.value
    )


def _unit(name: str, catalog: Catalog | None) -> str:
    parameter = catalog.by_name.get(name) if catalog else None
    return f" {parameter.unit}" if parameter and parameter.unit else ""


def _was(line: Line, catalog: Catalog | None) -> str:
    return ", ".join(_valued(catalog, found.key, found.value) for found in line.old)


def _now(line: Line, catalog: Catalog | None) -> str:
    return ", ".join(_valued(catalog, left.key, left.value) for left in line.new)


def _valued(catalog: Catalog | None, key: Key, value: str | None) -> str:
    return (
        f"{key} = {value}{_unit(key.name, catalog)}" if value is not None else f"{key} (made on the aircraft)"
    )


def lines_of(items: Sequence[Item]) -> Iterator[str]:
    """Identifiers of every carry-over line that items come from."""
    for item in items:
        yield from item.lines
