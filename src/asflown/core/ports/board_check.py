"""What of a board's description is impossible, held against its processor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from asflown.core.ports.board import Board
from asflown.core.ports.processor import Processor


@dataclass(frozen=True, slots=True)
class Impossible:
    """One thing that cannot be: the table of the description it stands in, its name, and why."""

    table: str
    name: str
    key: str
    why: str


def impossible(board: Board, processor: Processor) -> tuple[Impossible, ...]:
    """Everything of a description that its processor does not have, or that stands twice."""
    return (*_pads(board, processor), *_wanted(board, processor), *_twice(board), *_units(board, processor))


def _pads(board: Board, processor: Processor) -> Iterator[Impossible]:
    package = processor.packages.get(board.package or "")
    if board.package and package is None:
        known = ", ".join(sorted(processor.packages))
        why = f"there is no package {board.package} of {processor.name}; there are {known}"
        yield Impossible("board", board.name, "processor", why)
    seen: dict[str, str] = {}
    for name, pin in board.pads.items():
        yield from _pin(board, processor, "pads", name, name, pin)
        if pin in seen:
            yield Impossible("pads", name, name, f"pin {pin} is pad {seen[pin]} already")
        seen.setdefault(pin, name)


def _pin(
    board: Board, processor: Processor, table: str, name: str, key: str, pin: str
) -> Iterator[Impossible]:
    if pin not in processor.pins:
        yield Impossible(table, name, key, f"{processor.name} has no pin {pin}")
    elif board.package and pin not in processor.packages.get(board.package, {pin}):
        yield Impossible(table, name, key, f"pin {pin} is not led out of package {board.package}")


def _wanted(board: Board, processor: Processor) -> Iterator[Impossible]:
    """Each pin that must carry a signal."""
    for table, name, key, pin, signal in _signals(board):
        found = list(_pin(board, processor, table, name, key, pin))
        yield from found
        if not found and signal and signal not in processor.pins[pin]:
            instead = [other for other in processor.pins[pin] if other.startswith(signal[:3])]
            has = f"; it has {', '.join(instead)}" if instead else ""
            yield Impossible(table, name, key, f"pin {pin} cannot be {signal}{has}")
    for item in board.outputs:
        signals = processor.pins.get(item.pin)
        if signals is not None and not item.timer and not any("_CH" in signal for signal in signals):
            yield Impossible("output", item.name, "pin", f"pin {item.pin} is on no timer")
    for entry in board.inputs:
        signals = processor.pins.get(entry.pin)
        if signals is not None and not any(signal.startswith("ADC") for signal in signals):
            yield Impossible("input", entry.name, "pin", f"pin {entry.pin} is on no converter")


def _signals(board: Board) -> Iterator[tuple[str, str, str, str, str | None]]:
    for port in board.serial:
        for key, pin in (("tx", port.tx), ("rx", port.rx)):
            if pin:
                yield "serial", port.name, key, pin, f"{port.unit}_{key.upper()}"
    for output in board.outputs:
        yield "output", output.name, "timer" if output.timer else "pin", output.pin, output.timer
    for entry in board.inputs:
        yield "input", entry.name, "pin", entry.pin, None
    for bus in board.buses:
        yield "bus", bus.name, "clock", bus.clock, f"{bus.unit}_SCL"
        yield "bus", bus.name, "data", bus.data, f"{bus.unit}_SDA"
    for used in board.used:
        for pin in used.pins:
            yield "used", used.name, "pins", pin, None


def _twice(board: Board) -> Iterator[Impossible]:
    tables = (
        ("serial", [(port.name, port.id) for port in board.serial]),
        ("output", [(output.name, output.id) for output in board.outputs]),
        ("input", [(entry.name, entry.name) for entry in board.inputs]),
        ("bus", [(bus.name, bus.name) for bus in board.buses]),
    )
    for table, names in tables:
        for key, at in (("name", 0), ("id", 1)):
            seen: set[str] = set()
            for item in names:
                if item[at] in seen and (key == "name" or item[0] != item[1]):
                    yield Impossible(table, item[0], key, f"{item[at]!r} stands twice")
                seen.add(item[at])
    units: dict[str, str] = {}
    for port in board.serial:
        if port.unit in units:
            yield Impossible("serial", port.name, "unit", f"{port.unit} is {units[port.unit]} already")
        units.setdefault(port.unit, port.name)
    yield from _held_twice(board)


def _held_twice(board: Board) -> Iterator[Impossible]:
    held = {pin: used.name for used in board.used for pin in used.pins}
    for table, name, key, pin, _ in _signals(board):
        if table != "used" and pin in held:
            yield Impossible(table, name, key, f"pin {pin} is used on the board by {held[pin]}")
    busy = {unit: used.name for used in board.used for unit in used.units}
    wanted = [("serial", port.name, "unit", port.unit) for port in board.serial]
    wanted += [
        ("output", output.name, "timer", output.timer.partition("_")[0])
        for output in board.outputs
        if output.timer
    ]
    for table, name, key, unit in wanted:
        if unit in busy:
            yield Impossible(table, name, key, f"{unit} is used on the board by {busy[unit]}")


def _units(board: Board, processor: Processor) -> Iterator[Impossible]:
    for port in board.serial:
        if port.unit not in processor.serial:
            known = ", ".join(processor.serial)
            yield Impossible(
                "serial", port.name, "unit", f"{processor.name} has no {port.unit}; it has {known}"
            )
        if port.tx is None and port.rx is None:
            yield Impossible("serial", port.name, "tx", "neither tx nor rx is led out")
    for used in board.used:
        for request in used.dma:
            if not processor.has_request(request):
                yield Impossible("used", used.name, "dma", f"{processor.name} has no DMA request {request}")
