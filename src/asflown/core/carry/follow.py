"""Values whose unit depends on another setting move with it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from asflown.core.carry.dispositions import Cause, Disposition, Line
from asflown.core.carry.frame import Frame
from asflown.core.carry.options import Options


def follow_units(frame: Frame, lines: Iterable[Line]) -> tuple[Line, ...]:
    """Open a line when the setting its unit depends on does not stay as it was."""
    lines = tuple(lines)
    if frame.is_same_release:
        return lines
    by_name: dict[str, list[Line]] = {}
    for line in lines:
        for item in line.old:
            by_name.setdefault(item.key.name, []).append(line)
    return tuple(_followed(frame, line, by_name) for line in lines)


def _followed(frame: Frame, line: Line, by_name: dict[str, list[Line]]) -> Line:
    if line.disposition not in (Disposition.KEEP, Disposition.RENAME) or len(line.new) != 1:
        return line
    found, left = line.old[0], line.new[0]
    old, new = frame.old.definition(found.key.name), frame.new.definition(left.key.name)
    controller = old.unit_from or new.unit_from
    if controller is None or left.value is None or not line.consequence.is_risky:
        return line
    says = _moved(frame, controller, new.unit_from, by_name)
    if says is None:
        return line
    options = Options(found.key, found.value, left.key, left.factory, new).keep().take_factory().typed()
    return replace(
        line,
        disposition=Disposition.DECIDE,
        new=(replace(left, value=None),),
        cause=Cause.NEW_UNIT,
        cause_detail=f"by {controller}",
        options=options.made(),
        why=f"its unit depends on {controller}, and {says}",
    )


def _moved(
    frame: Frame, controller: str, stated_now: str | None, by_name: dict[str, list[Line]]
) -> str | None:
    """Why the controlling setting does not say what it said; ``None`` when it does."""
    holders = by_name.get(controller, [])
    if not holders:
        return "that setting was not found"
    for line in holders:
        if line.is_open:
            return "that is to decide"
        if len(line.new) != 1 or not _says_the_same(frame, line):
            return "that does not keep its meaning"
        if stated_now is not None and stated_now not in (line.new[0].key.name, controller):
            return f"on {stated_now} in the new release"
    return None


def _says_the_same(frame: Frame, line: Line) -> bool:
    """Whether the controlling setting is left at the choice it had, whatever its number now."""
    found, left = line.old[0], line.new[0]
    old, new = frame.old.definition(found.key.name), frame.new.definition(left.key.name)
    before = old.choice_label(found.value)
    after = new.choice_label(left.value) if left.value is not None else None
    if before is None or after is None:
        return found.value == left.value
    return before.casefold() == after.casefold()
