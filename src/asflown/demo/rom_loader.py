"""A simulated serial boot loader (AN3155) before a simulated flash: bytes in, bytes out.

It reads the protocol on its own, not by asflown's encoder, so that a mistake of the one is seen by the other.
"""

from __future__ import annotations

from collections.abc import Callable

from asflown.demo.flash import SimulatedFlash

_ACK, _NACK = b"\x79", b"\x1f"
#: Answers to Get: version 3.1, then the commands it knows.
_KNOWN = bytes((0x31, 0x00, 0x01, 0x02, 0x11, 0x21, 0x31, 0x44, 0x63, 0x73, 0x82, 0x92))


class SimulatedLoader:
    """Takes bytes as they come, and gives the answers.

    Attributes
    ----------
    refused
        Commands that change protection or erase everything and came nevertheless: never to be sent.
    started
        Where the firmware was started, ``None`` while the loader runs.
    """

    def __init__(self, flash: SimulatedFlash, chip: int) -> None:
        self.flash = flash
        self.chip = chip
        self.awake = False
        self.refused: list[int] = []
        self.started: int | None = None
        self._waiting = b""
        self._wanted: Callable[[], tuple[int, Callable[[bytes], bytes]]] = self._command

    def feed(self, data: bytes) -> bytes:
        """The answer to some bytes; what is not complete yet waits."""
        self._waiting += data
        answer = b""
        while self._waiting:
            if not self.awake:
                first, self._waiting = self._waiting[:1], self._waiting[1:]
                if first == b"\x7f":
                    self.awake = True
                    answer += _ACK
                continue
            size, act = self._wanted()
            if len(self._waiting) < size:
                break
            part, self._waiting = self._waiting[:size], self._waiting[size:]
            answer += act(part)
        return answer

    def _command(self) -> tuple[int, Callable[[bytes], bytes]]:
        return 2, self._do

    def _next(self, size: Callable[[], int], act: Callable[[bytes], bytes]) -> None:
        self._wanted = lambda: (size(), act)

    def _done(self, answer: bytes) -> bytes:
        self._wanted = self._command
        return answer

    def _do(self, part: bytes) -> bytes:
        code, check = part
        if code ^ check != 0xFF:
            return _NACK
        if code in (0x63, 0x73, 0x82, 0x92):
            self.refused.append(code)
        if code == 0x00:
            return _ACK + bytes((len(_KNOWN) - 1,)) + _KNOWN + _ACK
        if code == 0x02:
            return _ACK + b"\x01" + self.chip.to_bytes(2, "big") + _ACK
        then: dict[int, tuple[Callable[[], int], Callable[[bytes], bytes]]] = {
            0x11: (lambda: 5, self._read_at),
            0x21: (lambda: 5, self._go),
            0x31: (lambda: 5, self._write_at),
            0x44: (self._erase_size, self._erase),
        }
        if code not in then or (self.flash.protected and code != 0x44):
            return _NACK
        self._next(*then[code])
        return _ACK

    @staticmethod
    def _adds_up(part: bytes) -> bool:
        made = 0
        for byte in part:
            made ^= byte
        return made == 0

    def _read_at(self, part: bytes) -> bytes:
        at = int.from_bytes(part[:4], "big")
        if not self._adds_up(part) or not self.flash.holds(at, 1):
            return self._done(_NACK)

        def give(size: bytes) -> bytes:
            data = self.flash.read(at, size[0] + 1) if size[0] ^ size[1] == 0xFF else None
            return self._done(_NACK if data is None else _ACK + data)

        self._next(lambda: 2, give)
        return _ACK

    def _go(self, part: bytes) -> bytes:
        at = int.from_bytes(part[:4], "big")
        if not self._adds_up(part) or not self.flash.holds(at, 8):
            return self._done(_NACK)
        self.started = at
        self.awake = False
        return self._done(_ACK)

    def _write_at(self, part: bytes) -> bytes:
        at = int.from_bytes(part[:4], "big")
        if not self._adds_up(part) or not self.flash.holds(at, 1) or at % 4:
            return self._done(_NACK)

        def take(block: bytes) -> bytes:
            good = self._adds_up(block) and len(block) % 4 == 2 and self.flash.write(at, block[1:-1])
            return self._done(_ACK if good else _NACK)

        self._next(lambda: self._waiting[0] + 3, take)
        return _ACK

    def _erase_size(self) -> int:
        if len(self._waiting) < 2:
            return 2
        count = int.from_bytes(self._waiting[:2], "big")
        return 3 if count >= 0xFFF0 else 2 + 2 * (count + 1) + 1

    def _erase(self, part: bytes) -> bytes:
        if not self._adds_up(part):
            return self._done(_NACK)
        if part == b"\xff\xff\x00":  # everything: asflown must never send it
            self.refused.append(0x44)
            return self._done(_ACK if self.flash.erase(range(len(self.flash.sectors))) else _NACK)
        if len(part) < 5:
            return self._done(_NACK)
        numbers = [int.from_bytes(part[n : n + 2], "big") for n in range(2, len(part) - 1, 2)]
        return self._done(_ACK if self.flash.erase(numbers) else _NACK)
