"""A talk with the processor's serial boot loader, over any line of bytes (AN3155)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from asflown.core.load import rom_serial
from asflown.core.load.rom_serial import ACK, NACK, Command

#: Seconds to wait for an answer; erasing 128 KiB may take 4 s (data sheets, from memory).
ANSWER, ERASING = 1.0, 10.0


class Line(Protocol):
    """A line of bytes: 8 data bits, even parity, 1 stop bit."""

    def send(self, data: bytes) -> None:
        """Send all of it."""

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""


class LoaderError(Exception):
    """The loader did not do what was asked.

    Attributes
    ----------
    step
        What was asked.
    refused
        Whether it said no; else it said nothing, or nonsense.
    """

    def __init__(self, step: str, what: str, *, refused: bool = False) -> None:
        super().__init__(f"{step}: {what}")
        self.step = step
        self.refused = refused


@dataclass(frozen=True, slots=True)
class Loader:
    """What the loader says of itself: its version, the commands it knows, the chip's identifier."""

    version: str
    commands: frozenset[int]
    chip: int

    @property
    def extended_erase(self) -> bool:
        """Whether sectors are named with two bytes."""
        return Command.EXTENDED_ERASE in self.commands


class RomSession:
    """Reads, erases and writes flash by the loader. It sends nothing that changes protection.

    Raises
    ------
    LoaderError
        From every method, when the loader refuses, is silent, or answers nonsense.
    """

    def __init__(self, line: Line) -> None:
        self.line = line

    def connect(self, tries: int = 3) -> Loader:
        """Wake the loader and ask what it is.

        A loader that is awake already answers the first byte with NACK: that is an answer too.
        """
        for _ in range(tries):
            self.line.send(bytes((rom_serial.INIT,)))
            if self.line.receive(1, ANSWER) in (bytes((ACK,)), bytes((NACK,))):
                return self.ask()
        raise LoaderError("waking the loader", f"no answer to {tries} calls")

    def ask(self) -> Loader:
        """Version, commands and chip."""
        body = self._listed("asking for its commands", Command.GET)
        chip = self._listed("asking for the chip", Command.GET_ID)
        if not body or len(chip) != 2:
            raise LoaderError("asking what it is", "an answer that is too short")
        version = f"{body[0] >> 4}.{body[0] & 15}"
        return Loader(version, frozenset(body[1:]), int.from_bytes(chip, "big"))

    def read(self, at: int, count: int) -> bytes:
        """Bytes of the memory, in blocks of 256. A protected flash refuses."""
        made = bytearray()
        while len(made) < count:
            size = min(rom_serial.BLOCK, count - len(made))
            step = f"reading {size} bytes at 0x{at + len(made):08X}"
            self._ask(step, rom_serial.command(Command.READ))
            self._ask(step, rom_serial.address(at + len(made)))
            self._ask(step, rom_serial.read_size(size))
            made += self._bytes(step, size)
        return bytes(made)

    def erase(self, sectors: Sequence[int]) -> None:
        """Erase sectors, one call each, so that a break in between is told by its sector."""
        for sector in sectors:
            step = f"erasing sector {sector}"
            self._ask(step, rom_serial.command(Command.EXTENDED_ERASE))
            self._ask(step, rom_serial.erase_sectors([sector]), seconds=ERASING)

    def write(self, at: int, data: bytes) -> None:
        """Write up to 256 bytes, a multiple of 4."""
        step = f"writing {len(data)} bytes at 0x{at:08X}"
        self._ask(step, rom_serial.command(Command.WRITE))
        self._ask(step, rom_serial.address(at))
        self._ask(step, rom_serial.write_block(data))

    def _ask(self, step: str, data: bytes, *, seconds: float = ANSWER) -> None:
        self.line.send(data)
        answer = self.line.receive(1, seconds)
        if answer == bytes((ACK,)):
            return
        if answer == bytes((NACK,)):
            raise LoaderError(step, "refused", refused=True)
        raise LoaderError(step, f"answered 0x{answer[0]:02X}" if answer else f"no answer in {seconds:g} s")

    def _bytes(self, step: str, count: int) -> bytes:
        data = self.line.receive(count, ANSWER + count / 1000)
        if len(data) < count:
            raise LoaderError(step, f"{len(data)} of {count} bytes came")
        return data

    def _listed(self, step: str, code: Command) -> bytes:
        """The bytes of an answer that begins with their number less one and ends in ACK."""
        self._ask(step, rom_serial.command(code))
        count = self._bytes(step, 1)[0] + 1
        data = self._bytes(step, count)
        if self.line.receive(1, ANSWER) != bytes((ACK,)):
            raise LoaderError(step, "the answer has no end")
        return data
