"""Board descriptions (TOML): what is led out where, held against the processor's table."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from typing import TYPE_CHECKING

from asflown.core.ports.board import Board, Bus, Input, Output, SerialPort, Used
from asflown.core.ports.board_check import Impossible, impossible
from asflown.core.ports.processor import Processor, split
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas_board import BoardFile

#: Where the flash of all processors there are tables for begins (their reference manuals).
FLASH_START = 0x08000000

_LOOK = "look the part's name up on the chip"

#: Loads the table of a part; ``None`` where there is none.
LoadProcessor = Callable[[str], Processor | None]


def read(data: bytes, name: str, load: LoadProcessor, known: Collection[str] = ()) -> tuple[Board, Processor]:
    """Read a board description.

    Parameters
    ----------
    known
        Processors there is a table for, for the message.

    Raises
    ------
    InputError
        Naming every fault with its line: unknown processor, a pin it has not or that cannot do what is said,
        what stands twice.
    """
    from asflown.formats.schemas_board import BoardFile

    lines = toml_lines(data)
    written = checked(BoardFile, load_toml(data, name), name, lines)
    processor = load(written.processor)
    if processor is None:
        raise InputError(
            f"there is no table for the processor {written.processor!r}",
            where=_at(name, lines, ("processor",)),
            next_step=f"write one of these, its package for x or x itself: {', '.join(known)}"
            if known
            else _LOOK,
        )
    board = _board(written, name, processor)
    faults = (
        *(
            Fault(_said(found), _at(name, lines, *_keys(written, found)))
            for found in impossible(board, processor)
        ),
        *_outside(written, processor, name, lines),
    )
    if faults:
        raise InputError(
            f"{len(faults)} things cannot be" if len(faults) > 1 else "one thing cannot be",
            where=name,
            faults=faults,
            next_step="correct the file; the processor's data sheet has the table of alternate functions",
        )
    return board, processor


def _said(found: Impossible) -> str:
    where = found.name if found.table in ("pads", "board") else f"{found.table} {found.name!r}"
    return f"{where}, {found.key}: {found.why}" if found.key != found.name else f"pad {where}: {found.why}"


def _board(written: BoardFile, file: str, processor: Processor) -> Board:
    pads = dict(written.pads)

    def pin(said: str | None) -> str | None:
        return None if said is None else pads.get(said, said)

    def surely(said: str) -> str:
        return pads.get(said, said)

    return Board(
        written.board or file.rpartition("/")[2].removesuffix(".toml"),
        processor.name,
        split(written.processor)[1],
        pads,
        tuple(
            SerialPort(
                one.name,
                one.id,
                one.unit,
                pin(one.tx),
                pin(one.rx),
                one.inverter,
                one.most_volts,
                one.connector,
                one.number,
            )
            for one in written.serial
        ),
        tuple(Output(one.name, one.id, surely(one.pin), one.timer, one.connector) for one in written.output),
        tuple(Input(one.name, surely(one.pin), one.measures, one.connector) for one in written.input),
        tuple(
            Bus(one.name, one.unit, surely(one.clock), surely(one.data), one.connector) for one in written.bus
        ),
        tuple(
            Used(one.name, tuple(surely(item) for item in one.pins), tuple(one.units), tuple(one.dma))
            for one in written.used
        ),
        _kept_flash(written),
    )


def _kept_flash(written: BoardFile) -> int | None:
    """Bytes of flash an image cannot have: all before its start, and the areas behind it."""
    if not written.area and not written.settings_elsewhere:
        return None
    start = FLASH_START if written.image_at is None else written.image_at
    return start - FLASH_START + sum(area.size for area in written.area if area.start >= start)


def _outside(
    written: BoardFile, processor: Processor, name: str, lines: Mapping[tuple[str | int, ...], int]
) -> Iterator[Fault]:
    """Addresses that are not in the processor's flash."""
    end = FLASH_START + processor.flash
    flash = f"outside the flash, 0x{FLASH_START:08X}-0x{end - 1:08X}"
    if written.image_at is not None and not FLASH_START <= written.image_at < end:
        yield Fault(f"image_at 0x{written.image_at:08X} lies {flash}", _at(name, lines, ("image_at",)))
    for at, area in enumerate(written.area):
        if not FLASH_START <= area.start < area.start + area.size <= end:
            said = f"0x{area.start:08X}-0x{area.start + area.size - 1:08X} lies {flash}"
            yield Fault(f"area {area.name or area.what}: {said}", _at(name, lines, ("area", at)))


def _keys(written: BoardFile, found: Impossible) -> tuple[tuple[str | int, ...], ...]:
    """Where in the file a thing stands, the narrowest place first."""
    if found.table == "board":
        return (("processor",),)
    if found.table == "pads":
        return (("pads", found.key), ("pads",))
    names = [one.name for one in getattr(written, found.table)]
    at = max((number for number, name in enumerate(names) if name == found.name), default=0)
    return ((found.table, at, found.key), (found.table, at))


def _at(name: str, lines: Mapping[tuple[str | int, ...], int], *keys: tuple[str | int, ...]) -> str:
    line = next((lines[key] for key in keys if key in lines), None)
    return f"{name}:{line}" if line else name


def begin(processor: Processor, name: str, package: str | None) -> bytes:
    """A description to fill in: every serial unit, timer pin and bus of the processor, as comments."""
    pins = processor.packages.get(package or "", frozenset(processor.pins))
    part = processor.name if package is None else processor.name.replace("x", package, 1)
    lines = [
        f"# Board description of {name}. Take the marks away where the board leads something out.",
        f"# Processor table: {processor.source}.",
        f'board = "{name}"',
        f'processor = "{part}"',
        "",
        "[pads]  # printed name = pin",
        '# T1 = "PA9"',
        "",
    ]
    found = processor.pins_by_signal

    def where(signal: str) -> str:
        return ", ".join(pin for pin in found.get(signal, ()) if pin in pins)

    for unit in processor.serial:
        sends, hears = where(f"{unit}_TX"), where(f"{unit}_RX")
        if sends or hears:
            lines += [
                "# [[serial]]",
                f'# name = "{unit.lower()}"',
                f'# id = "{unit.lower()}"  # what settings call it',
                f'# unit = "{unit}"',
                f'# tx = ""  # {sends or "not led out of this package"}',
                f'# rx = ""  # {hears or "not led out of this package"}',
                "",
            ]
    for timer, kind in processor.timers.items():
        channels = [(c, where(f"{timer}_CH{c}")) for c in (1, 2, 3, 4)]
        told = "; ".join(f"CH{c} {at}" for c, at in channels if at)
        if told:
            lines.append(f"# {timer} ({kind}): {told}")
    lines += [
        "",
        "# [[output]]",
        '# name = "output 1"',
        '# id = "1"',
        '# pin = ""',
        '# timer = ""  # the channel of the maker\'s image, e.g. TIM3_CH3',
        "",
        "# [[input]]",
        '# name = "voltage"',
        '# pin = ""',
        '# measures = "voltage"',
        "",
    ]
    for unit in sorted({signal[:4] for signal in found if signal.startswith("I2C")}):
        if where(f"{unit}_SCL"):
            lines += [
                "# [[bus]]",
                f'# name = "{unit.lower()}"',
                f'# unit = "{unit}"',
                f'# clock = ""  # {where(f"{unit}_SCL")}',
                f'# data = ""  # {where(f"{unit}_SDA")}',
                "",
            ]
    lines += [
        "# [[used]]  # what the board uses for itself",
        '# name = "gyro"',
        "# pins = []",
        '# units = ["SPI1"]',
        '# dma = ["SPI1_RX", "SPI1_TX"]',
    ]
    return ("\n".join(lines) + "\n").encode()
