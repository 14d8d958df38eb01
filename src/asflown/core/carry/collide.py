"""Two settings must not land on one place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from asflown.core.carry.dispositions import Basis, Cause, Disposition, Line, Option
from asflown.core.record import Key


def collide(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Open every line whose place an earlier and better founded line already takes.

    A note's line stands before a same name's line, and that before an inferred one.
    """
    lines = tuple(lines)
    holders: dict[Key, Line] = {}
    for line in sorted(lines, key=_standing):
        for item in line.new:
            holders.setdefault(item.key, line)
    return tuple(_opened(line, holders) for line in lines)


def _standing(line: Line) -> int:
    order = (Basis.DECISION, Basis.NOTE, Basis.CATALOG, Basis.SAME_NAME, Basis.FACTORY, Basis.BELONGING)
    return order.index(line.basis) if line.basis in order else len(order)


def _opened(line: Line, holders: dict[Key, Line]) -> Line:
    rivals = [item for item in line.new if holders[item.key] is not line]
    if not rivals:
        return line
    other = ", ".join(str(item.key) for item in holders[rivals[0].key].old)
    why = f"{rivals[0].key} is already filled by {other}"
    retire = Option("retire", "leave it behind", Disposition.RETIRE)
    return replace(
        line,
        disposition=Disposition.DECIDE,
        new=(),
        cause=Cause.NOTE_DISAGREES,
        cause_detail=line.old[0].key.name if line.old else "",
        options=(retire,),
        why=why,
        copied=None,
    )
