"""A release's control structure (TOML): the blocks from command and rate to the drive; the stick's curve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asflown.core import stick
from asflown.core.control import Block, ControlStructure, faults
from asflown.core.stick import StickShape
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas import ControlBlock, ControlFile, ControlStick

#: What stands for the axis in a role.
AXIS = "{axis}"
_KEYS = {"parameters": "roles"}


@dataclass(frozen=True)
class Declaration:
    """What a file declares, by axis.

    Attributes
    ----------
    control
        Blocks; empty where none is declared.
    stick
        The stick's curves; empty where none is declared.
    """

    control: Mapping[str, ControlStructure] = field(default_factory=dict)
    stick: Mapping[str, StickShape] = field(default_factory=dict)


def read(data: bytes, name: str = "control.toml") -> Declaration:
    """Read the control structure and the stick's curve of every axis they are declared for.

    Raises
    ------
    InputError
        With every fault and its line.
    """
    from asflown.formats.schemas import ControlFile

    lines = toml_lines(data)
    written = checked(ControlFile, load_toml(data, name), name, lines)
    axes = dict.fromkeys(written.axes) if written.block else {}
    made: dict[str, ControlStructure] = {axis: _structure(written, axis) for axis in axes}
    wrong = [fault for one in made.values() for fault in _faults(written, one, name, lines)]
    wrong += _stick_faults(written, name, lines)
    found = tuple(dict.fromkeys(wrong))
    if found:
        raise InputError(
            f"{len(found)} thing{'s' if len(found) > 1 else ''} to correct",
            where=name,
            faults=found,
            next_step="correct the file and bring it again",
        )
    return Declaration(made, {axis: _stick(one, axis) for one in written.stick for axis in one.axes})


def _stick(written: ControlStick, axis: str) -> StickShape:
    return StickShape(
        axis,
        written.form,
        {word: role.replace(AXIS, axis) for word, role in written.roles.items()},
        dict(written.constants),
        tuple(
            (place, share.replace(AXIS, axis) if isinstance(share, str) else share)
            for place, share in written.points
        ),
        written.dead_band_rule,
    )


def _stick_faults(
    written: ControlFile, name: str, lines: Mapping[tuple[str | int, ...], int]
) -> Iterator[Fault]:
    seen: set[str] = set()
    for number, one in enumerate(written.stick):
        told = list(stick.faults(_stick(one, one.axes[0])))
        twice = sorted(seen & set(one.axes))
        if twice:
            told.append(("axes", f"the stick's curve of {', '.join(twice)} is declared twice"))
        seen |= set(one.axes)
        for key, what in told:
            line = lines.get(("stick", number, key), lines.get(("stick", number), 1))
            yield Fault(what, f"{name}:{line} stick[{number + 1}].{key}")


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
