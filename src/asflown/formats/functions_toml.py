"""A release's optional functions and protocols (``functions.toml``)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING, Any

from asflown.core.catalog import OptionalFunction, Protocol
from asflown.core.ports.needs import SerialNeed
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas import FunctionsFile, SerialWords


@dataclass(frozen=True)
class Functions:
    """What the file says."""

    base: int | None
    functions: tuple[OptionalFunction, ...]
    protocols: tuple[Protocol, ...] | None


def functions_of(tree: dict[str, Any], path: str, data: bytes) -> Functions:
    """Read the file.

    Raises
    ------
    InputError
        With every fault and its line: a function that needs itself in the end, one that is needed and not
        there, a name that stands twice.
    """
    from asflown.formats.schemas import FunctionsFile

    lines = toml_lines(data)
    written = checked(FunctionsFile, tree, path, lines)
    faults = [*_twice(written, path, lines), *_needed(written, path, lines), *_circular(written, path, lines)]
    if faults:
        raise InputError("functions cannot be read", where=path, faults=tuple(faults))
    return Functions(
        written.base,
        tuple(
            OptionalFunction(one.name, one.flash, tuple(one.needs), one.description)
            for one in written.function
        ),
        tuple(
            Protocol(
                one.name,
                one.device,
                one.port_does,
                one.role,
                one.value,
                serial_need(one),
                one.function,
                one.update_hz,
                one.dma,
            )
            for one in written.protocol
        )
        or None,
    )


def serial_need(written: SerialWords) -> SerialNeed | None:
    """What a table says about a serial line; ``None`` where nothing."""
    baud = written.baud
    least, most = (baud, baud) if isinstance(baud, int) else (min(baud), max(baud)) if baud else (None, None)
    made = SerialNeed(
        least,
        most,
        written.inverted,
        written.half_duplex,
        written.to_device,
        written.from_device,
        written.dma,
    )
    return None if made == SerialNeed() else made


_Lines = Mapping[tuple[str | int, ...], int]


def _at(path: str, lines: _Lines, *key: str | int) -> str:
    line = lines.get(key) or lines.get(key[:-1])
    return f"{path}:{line}" if line else path


def _twice(written: FunctionsFile, path: str, lines: _Lines) -> list[Fault]:
    names = [one.name for one in written.function]
    return [
        Fault(f"the function {name!r} stands twice", _at(path, lines, "function", at, "name"))
        for at, name in enumerate(names)
        if name in names[:at]
    ]


def _needed(written: FunctionsFile, path: str, lines: _Lines) -> list[Fault]:
    names = {one.name for one in written.function}
    faults = [
        Fault(
            f"{one.name!r} needs {need!r}, which is no function here",
            _at(path, lines, "function", at, "needs"),
        )
        for at, one in enumerate(written.function)
        for need in one.needs
        if need not in names
    ]
    faults += [
        Fault(
            f"the protocol {one.name!r} needs {one.function!r}, which is no function here",
            _at(path, lines, "protocol", at, "function"),
        )
        for at, one in enumerate(written.protocol)
        if one.function and one.function not in names
    ]
    return faults


def _circular(written: FunctionsFile, path: str, lines: _Lines) -> list[Fault]:
    graph = {one.name: set(one.needs) for one in written.function}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        ring = [str(name) for name in reversed(error.args[1])]
        at = next(at for at, one in enumerate(written.function) if one.name == ring[0])
        said = " needs ".join(ring)
        return [Fault(f"a ring of needs: {said}", _at(path, lines, "function", at, "needs"))]
    return []
