"""A board's description in words."""

from __future__ import annotations

from typing import Any

from asflown.app.boards import AddedBoard
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.ports.board import Board
from asflown.core.ports.processor import Processor


def begun_sheet(name: str, part: str, place: str) -> Sheet:
    """That a description was begun."""
    return Sheet(
        "Board",
        (("board", name), ("processor", part)),
        f"{place} is begun. Take the marks away where the board leads something out.",
        notes=("The board's maker says which pins go where; a meter on the unpowered board finds the rest.",),
        next_act=(f"look whether it can be: asflown board check {place}",),
    )


def added_said(added: AddedBoard) -> str:
    """What became of a description that was brought in."""
    return f"{added.board.name} {'is kept' if added.was_kept else 'is as it was kept before'}."


def board_sheet(board: Board, processor: Processor, *, sentence: str, next_act: tuple[str, ...]) -> Sheet:
    """What is led out where."""
    pads = {pin: f"{pin} (pad {name})" for name, pin in board.pads.items()}

    def at(pin: str | None) -> str | None:
        return None if pin is None else pads.get(pin, pin)

    rows = [
        *(
            (
                port.name,
                f"{port.unit}: {_lines(at(port.tx), at(port.rx))}",
                _serial_words(port.inverter, port.most_volts),
            )
            for port in board.serial
        ),
        *(
            (output.name, at(output.pin) or "", output.timer or "any timer of the pin")
            for output in board.outputs
        ),
        *((entry.name, at(entry.pin) or "", entry.measures or "any measure") for entry in board.inputs),
        *((bus.name, f"{bus.unit}: clock {at(bus.clock)}, data {at(bus.data)}", "") for bus in board.buses),
        *((f"{used.name} (on the board)", ", ".join(used.units), ", ".join(used.dma)) for used in board.used),
    ]
    flash = "not stated" if board.kept_flash is None else f"{board.kept_flash} bytes of it kept"
    return Sheet(
        "Board",
        (
            ("board", board.name),
            ("processor", processor.name + (f", package {board.package}" if board.package else "")),
            ("flash", f"{processor.flash} bytes, {flash}"),
        ),
        sentence,
        tables=(Table(("place", "unit and pins", "more"), tuple(rows)),) if rows else (),
        notes=(f"Processor table: {processor.source}.",),
        next_act=next_act,
    )


def _lines(tx: str | None, rx: str | None) -> str:
    return ", ".join(f"{word} {pin}" for word, pin in (("sends on", tx), ("receives on", rx)) if pin)


def _serial_words(inverter: str, volts: float | None) -> str:
    words = [] if inverter == "no" else [f"inverter: {inverter}"]
    words += [] if volts is None else [f"bears {volts:g} V"]
    return ", ".join(words)


def board_json(board: Board, processor: Processor) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "board": board.name,
        "processor": processor.name,
        "package": board.package,
        "flash": processor.flash,
        "kept_flash": board.kept_flash,
        "pads": dict(board.pads),
        "serial": [
            {
                "name": port.name,
                "id": port.id,
                "number": port.number,
                "unit": port.unit,
                "tx": port.tx,
                "rx": port.rx,
                "inverter": port.inverter,
                "most_volts": port.most_volts,
                "connector": port.connector,
            }
            for port in board.serial
        ],
        "outputs": [
            {
                "name": output.name,
                "id": output.id,
                "pin": output.pin,
                "timer": output.timer,
                "connector": output.connector,
            }
            for output in board.outputs
        ],
        "inputs": [{"name": one.name, "pin": one.pin, "measures": one.measures} for one in board.inputs],
        "buses": [
            {"name": bus.name, "unit": bus.unit, "clock": bus.clock, "data": bus.data} for bus in board.buses
        ],
        "used": [
            {"name": used.name, "pins": list(used.pins), "units": list(used.units), "dma": list(used.dma)}
            for used in board.used
        ],
        "source": processor.source,
    }


def boards_sheet(boards: tuple[Board, ...]) -> Sheet:
    """All boards, a line each."""
    rows = [
        (
            board.name,
            board.processor,
            counted(len(board.serial), "serial port"),
            counted(len(board.outputs), "output"),
        )
        for board in boards
    ]
    return Sheet(
        "Boards",
        (("boards", str(len(boards))),),
        f"{counted(len(boards), 'board')} described." if boards else "No board is described yet.",
        tables=(Table(("board", "processor", "serial ports", "outputs"), tuple(rows)),) if rows else (),
        next_act=("begin one: asflown board new NAME --processor PART",),
    )
