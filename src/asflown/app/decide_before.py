"""Settle what is open as it was decided before: only where that is unambiguous, safety one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asflown.core.carry.before import AS_BEFORE
from asflown.core.carry.dispositions import Line
from asflown.core.carry.offering import ONE_BY_ONE
from asflown.core.plan import Group
from asflown.errors import UsageError


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """A group that choosing all at once leaves open, and why."""

    group: str
    why: str


def ways_before(lines: Sequence[Line]) -> dict[str, tuple[list[Line], dict[str, str]]]:
    """The options that settle lines as before: the lines of each, and the values typed then by line.

    Raises
    ------
    UsageError
        When nothing was decided before about one of them, or not alike.
    """
    ways: dict[str, tuple[list[Line], dict[str, str]]] = {}
    missing = []
    for line in lines:
        option = line.before.option if line.before is not None else None
        if line.before is None or option is None:
            missing.append(", ".join(str(item.key) for item in (line.old or line.new)) or line.id)
            continue
        chosen, values = ways.setdefault(option, ([], {}))
        chosen.append(line)
        if line.before.typed is not None and option == "value":
            values[line.id] = line.before.typed
    if missing:
        raise UsageError(
            f"nothing decided before can be taken for {', '.join(missing[:6])}",
            next_step=f"leave them out with --except, or choose another option than {AS_BEFORE}",
        )
    return ways


def why_left(group: Group) -> str | None:
    """Why a group is not settled when all that is clear is taken at once; ``None`` where it is."""
    before = [line.before for line in group.lines]
    if not any(before):
        return "nothing was decided before"
    if group.consequence in ONE_BY_ONE:
        return f"{_consequence(group)}: to be chosen by itself"
    if any(one is not None and one.disagrees for one in before):
        return "what was decided before disagrees"
    clear = sum(one is not None and one.is_clear for one in before)
    if clear == len(before):
        return None
    if any(one is not None and one.typed is not None for one in before):
        return "a value was typed there: to be chosen by itself"
    if clear:
        return f"{clear} of its {len(before)} settings were decided before"
    doubts = (way.doubt for one in before if one is not None for way in one.ways if way.doubt)
    return f"what was decided before does not settle it: {next(doubts, 'not alike')}"


def _consequence(group: Group) -> str:
    return "touches safety" if group.consequence == "safety" else "nobody stated what it touches"
