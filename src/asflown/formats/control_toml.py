"""A release's control structure (TOML): the blocks from command and measured rate to the drive."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from asflown.core.control import Block, ControlStructure, faults
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas import ControlBlock, ControlFile

#: What stands for the axis in a role.
AXIS = "{axis}"
_KEYS = {"parameters": "roles"}


def read(data: bytes, name: str = "control.toml") -> Mapping[str, ControlStructure]:
    """Read the control structure of every axis it is declared for.

    Raises
    ------
    InputError
        With every fault and its line.
    """
    from asflown.formats.schemas import ControlFile

    lines = toml_lines(data)
    written = checked(ControlFile, load_toml(data, name), name, lines)
    made: dict[str, ControlStructure] = {
        axis: _structure(written, axis) for axis in dict.fromkeys(written.axes)
    }
    found = tuple(dict.fromkeys(f for one in made.values() for f in _faults(written, one, name, lines)))
    if found:
        raise InputError(
            f"{len(found)} thing{'s' if len(found) > 1 else ''} to correct",
            where=name,
            faults=found,
            next_step="correct the file and bring it again",
        )
    return made


def _structure(written: ControlFile, axis: str) -> ControlStructure:
    blocks = tuple(_block(block, axis) for block in written.block if axis in block.axes)
    return ControlStructure(
        axis,
        blocks,
        written.rate,
        _for(written.rate_role, axis),
        _cases(written.holds, axis),
        written.latency_steps,
    )


def _block(written: ControlBlock, axis: str) -> Block:
    return Block(
        written.name,
        written.kind,
        tuple(written.inputs),
        {word: role.replace(AXIS, axis) for word, role in written.roles.items()},
        dict(written.constants),
        _cases(written.when, axis),
        _cases(written.unless, axis),
    )


def _for(role: str | None, axis: str) -> str | None:
    return None if role is None else role.replace(AXIS, axis)


def _cases(written: Mapping[str, list[float]], axis: str) -> dict[str, tuple[float, ...]]:
    return {role.replace(AXIS, axis): tuple(values) for role, values in written.items()}


def _faults(
    written: ControlFile, made: ControlStructure, name: str, lines: Mapping[tuple[str | int, ...], int]
) -> Iterator[Fault]:
    """Faults of one axis at the places of the file; those that every axis shares come out the same."""
    places = [n for n, block in enumerate(written.block) if made.axis in block.axes]
    shared = set(written.axes)
    for number, where, what in faults(made):
        if number is None:
            line, field = 1, _KEYS.get(where, where)
            everywhere = where == "rate" or all(shared <= set(block.axes) for block in written.block)
            what = what if everywhere else f"{made.axis}: {what}"
        else:
            place = places[number]
            key = _KEYS.get(where, where)
            line = lines.get(("block", place, key), lines.get(("block", place), 1))
            field = f"block[{place + 1}].{key}"
        yield Fault(what, f"{name}:{line} {field}")
