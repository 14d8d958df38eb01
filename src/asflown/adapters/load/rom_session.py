"""A talk with the processor's serial boot loader, over any line of bytes (AN3155)."""

from __future__ import annotations

from typing import Protocol

from asflown.core.image.flash import Sector
from asflown.core.load import rom_serial
from asflown.core.load.rom_serial import ACK, NACK, Command
from asflown.core.load.told import Told
from asflown.errors import DeviceError

#: Seconds to wait for an answer; erasing 256 KiB may take 4 s (data sheets, from memory).
ANSWER, ERASING = 1.0, 12.0
#: Bytes that fill up what a loader may still wait for: a block with its checksum by small pieces;
#: where a spoilt byte made it wait for 65,536 sectors' numbers, those by large ones.
_FILL = b"\xff" * 16
_BLOCK, _SECTORS = 18, 257
#: How long the answer to a few filling bytes may take, as a part of the patience.
_SHORT = 1 / 20


class Line(Protocol):
    """A line of bytes: 8 data bits, even parity, 1 stop bit."""

    def send(self, data: bytes) -> None:
        """Send all of it."""

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""

    def close(self) -> None:
        """Let go of it."""


class RomSession:
    """Reads, erases and writes flash by the loader. It sends nothing that changes protection.

    Parameters
    ----------
    patience
        How long an answer may take, s.

    Raises
    ------
    DeviceError
        From every method, when the loader refuses, is silent, or answers nonsense.
    """

    def __init__(self, line: Line, patience: float = ANSWER) -> None:
        self.line = line
        self.patience = patience
        self._extended = True

    def connect(self, tries: int = 3) -> Told:
        """Wake the loader and ask what it is.

        A loader that is awake already takes the waking byte for half a command, and refuses the second.
        """
        step = "waking the loader"
        for _ in range(2 * tries):
            self.line.send(bytes((rom_serial.INIT,)))
            answer = self.line.receive(1, self.patience)
            if answer == bytes((ACK,)):
                break
            if answer:  # awake, perhaps in the middle of something
                self.recover()
                break
        else:
            raise DeviceError(step, f"no answer to {2 * tries} calls", trouble="silent", next_step=_NOT_AWAKE)
        return self._asked()

    def _asked(self) -> Told:
        """Version, commands and chip; asked until two answers agree, since nothing guards them on the way."""
        last: Told | None = None
        for left in reversed(range(5)):
            try:
                told = self._ask_once()
            except DeviceError as error:
                if not left or error.trouble == "lost":
                    raise
                self.recover()
                continue
            if told == last:
                self._extended = Command.EXTENDED_ERASE in told.commands
                return told
            last = told
        raise DeviceError("asking what it is", "no two answers in a row agree")

    def _ask_once(self) -> Told:
        body = self._listed("asking for its commands", Command.GET)
        chip = self._listed("asking for the chip", Command.GET_ID)
        if not body or len(chip) != 2:
            raise DeviceError("asking what it is", "an answer that is too short")
        version = f"{body[0] >> 4}.{body[0] & 15}"
        commands = tuple(sorted(body[1:]))
        chip_id = int.from_bytes(chip, "big")
        return Told("serial boot loader", version, chip_id, block=rom_serial.BLOCK, commands=commands)

    def recover(self) -> None:
        """Bring the talk into step: fill up what the loader waits for until it refuses, then ask.

        Filling bytes are 0xFF: a write they would complete by chance clears no bit, and an erase they would
        complete names no sector there is.
        """
        step = "bringing the talk with the loader back into step"
        for _ in range(4):
            self._drain()
            if not self._filled_up():
                break
            self._drain()
            if self._is_in_step():
                return
        raise DeviceError(step, "it does not come back", trouble="silent", next_step=_NOT_AWAKE)

    def _filled_up(self) -> bool:
        """Send filling bytes until the loader says anything; whether it did."""
        for _ in range(_BLOCK):
            self.line.send(_FILL)
            if self.line.receive(1, self.patience * _SHORT):
                return True
        for _ in range(_SECTORS):
            self.line.send(_FILL * 32)
            if self.line.receive(1, 0.0):
                return True
        return bool(self.line.receive(1, self.patience))

    def _is_in_step(self) -> bool:
        """Whether a harmless question is answered in full; a byte that may wait is completed first."""
        self.line.send(rom_serial.command(Command.GET))
        answer = self.line.receive(1, self.patience)
        if answer == bytes(
            (NACK,)
        ):  # the first byte completed half a command; its complement is half a one now
            self._drain()
            self.line.send(_FILL[:1])
            self._drain()
            return False
        if answer != bytes((ACK,)):
            return False
        size = self.line.receive(1, self.patience)
        rest = self.line.receive(size[0] + 2, self.patience) if size else b""
        return len(rest) == (size[0] + 2 if size else -1) and rest[-1:] == bytes((ACK,)) and rest[:1] != b""

    def _drain(self) -> None:
        while self.line.receive(256, self.patience * _SHORT):
            pass

    def read(self, at: int, count: int) -> bytes:
        """Bytes of the memory, in blocks of 256. A protected flash refuses the command itself."""
        made = bytearray()
        while len(made) < count:
            size = min(rom_serial.BLOCK, count - len(made))
            step = f"reading {size} bytes at 0x{at + len(made):08X}"
            self._ask(step, rom_serial.command(Command.READ), is_command=True)
            self._ask(step, rom_serial.address(at + len(made)))
            self._ask(step, rom_serial.read_size(size))
            made += self._bytes(step, size)
        return bytes(made)

    def erase(self, sector: Sector) -> None:
        """Erase a sector.

        Raises
        ------
        DeviceError
            Also where the loader knows only the older erase, whose sector numbers have one byte.
        """
        step = f"erasing sector {sector.number}"
        if not self._extended:
            raise DeviceError(step, "the loader knows no erase by numbers of two bytes", trouble="refused")
        self._ask(step, rom_serial.command(Command.EXTENDED_ERASE), is_command=True)
        self._ask(step, rom_serial.erase_sectors([sector.number]), seconds=ERASING)

    def write(self, at: int, data: bytes) -> None:
        """Write up to 256 bytes; they are filled up with erased bytes to a multiple of 4."""
        step = f"writing {len(data)} bytes at 0x{at:08X}"
        self._ask(step, rom_serial.command(Command.WRITE), is_command=True)
        self._ask(step, rom_serial.address(at))
        self._ask(step, rom_serial.write_block(rom_serial.padded(data)))

    def leave(self, at: int) -> None:
        """Start the firmware whose vector table lies at an address."""
        step = f"starting what lies at 0x{at:08X}"
        self._ask(step, rom_serial.command(Command.GO), is_command=True)
        self._ask(step, rom_serial.address(at))

    def close(self) -> None:
        """Let go of the port."""
        self.line.close()

    def _ask(self, step: str, data: bytes, *, seconds: float = 0.0, is_command: bool = False) -> None:
        seconds = seconds or self.patience
        self.line.send(data)
        answer = self.line.receive(1, seconds)
        if answer == bytes((ACK,)):
            return
        if answer == bytes((NACK,)):
            raise DeviceError(step, "refused", trouble="not allowed" if is_command else "refused")
        if answer:
            raise DeviceError(step, f"answered 0x{answer[0]:02X}")
        raise DeviceError(step, f"no answer in {seconds:g} s", trouble="silent")

    def _bytes(self, step: str, count: int) -> bytes:
        data = self.line.receive(count, self.patience + count / 1000)
        if len(data) < count:
            raise DeviceError(step, f"{len(data)} of {count} bytes came", trouble="silent")
        return data

    def _listed(self, step: str, code: Command) -> bytes:
        """The bytes of an answer that begins with their number less one and ends in ACK."""
        self._ask(step, rom_serial.command(code), is_command=True)
        count = self._bytes(step, 1)[0] + 1
        data = self._bytes(step, count)
        if self.line.receive(1, self.patience) != bytes((ACK,)):
            raise DeviceError(step, "the answer has no end")
        return data


_NOT_AWAKE = (
    "bring the board into its boot loader again (unplug it, hold the boot button, plug it in), then run the"
    " same command; asflown host-check says how"
)
