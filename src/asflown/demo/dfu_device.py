"""A simulated board in USB DFU mode: the published state machine before a simulated flash.

It reads the protocol on its own, not by asflown's encoder, so that a mistake of the one is seen by the other.
USB DFU 1.1, figure A.1 and section 6.1; the addressed writes after ST UM0391 and AN3156, from memory.
"""

from __future__ import annotations

from asflown.demo.flash import SimulatedFlash

_IDLE, _SYNC, _BUSY, _DNLOAD_IDLE, _MANIFEST_SYNC, _MANIFEST, _UPLOAD_IDLE, _ERROR = 2, 3, 4, 5, 6, 7, 9, 10
_OK, _WRITE, _ERASE, _ADDRESS, _VENDOR, _STALLED = 0x00, 0x03, 0x04, 0x08, 0x0B, 0x0F


class Stall(Exception):
    """The device refuses a request."""


class SimulatedDfu:
    """Takes class requests, and answers.

    Attributes
    ----------
    refused
        Commands that change protection or erase everything and came nevertheless: never to be sent.
    started
        Where the firmware was started, ``None`` while the loader runs.
    wait_ms
        What it says an act takes: by command byte, ``-1`` for a block of data.
    lies
        Whether it says it did what it did not do.
    """

    def __init__(self, flash: SimulatedFlash, block: int = 2048) -> None:
        self.flash, self.block = flash, block
        self.state, self.status = _IDLE, _OK
        self.refused: list[int] = []
        self.started: int | None = None
        self.wait_ms = {0x21: 1, 0x41: 400, -1: 10}
        self.lies = False
        self._pointer = flash.start
        self._waiting: tuple[int, bytes] | None = None

    @property
    def layout(self) -> str:
        """The text of its interface."""
        runs: list[tuple[int, int]] = []
        for _, size in self.flash.sectors:
            if runs and runs[-1][1] == size:
                runs[-1] = (runs[-1][0] + 1, size)
            else:
                runs.append((1, size))
        said = ",".join(
            f"{count:02d}*{size // 1024:03d}Kg" if size % 1024 == 0 else f"{count:02d}*{size:03d}Bg"
            for count, size in runs
        )
        return f"@Internal Flash  /0x{self.flash.start:08X}/{said}"

    def power_up(self) -> None:
        """Plugged in again: idle, whatever it did before; the flash is as it was left."""
        self.state, self.status, self._waiting, self.started = _IDLE, _OK, None, None
        self._pointer = self.flash.start

    def take(self, request: int, value: int, data: bytes) -> None:
        """A request with data from the host."""
        if request == 1:
            self._download(value, data)
        elif request == 4:
            if self.state != _ERROR:
                raise self._stall()
            self.state, self.status = _IDLE, _OK
        elif request == 6:
            if self.state not in (_IDLE, _SYNC, _DNLOAD_IDLE, _MANIFEST_SYNC, _UPLOAD_IDLE):
                raise self._stall()
            self.state, self._waiting = _IDLE, None
        else:
            raise self._stall()

    def give(self, request: int, value: int, count: int) -> bytes:
        """A request for data."""
        if request == 2:
            return self._upload(value, count)
        if request == 3:
            return self._told()
        if request == 5:
            return bytes((self.state,))
        raise self._stall()

    def _stall(self, status: int = _STALLED) -> Stall:
        self.state, self.status = _ERROR, status
        return Stall()

    def _download(self, number: int, data: bytes) -> None:
        if self.state not in (_IDLE, _DNLOAD_IDLE) or len(data) > self.block or number == 1:
            raise self._stall()
        if not data:
            if self.state != _DNLOAD_IDLE:
                raise self._stall()
            self.state = _MANIFEST_SYNC
            return
        if self.flash.protected:
            raise self._stall(_VENDOR)
        self._waiting, self.state = (number, data), _SYNC

    def _upload(self, number: int, count: int) -> bytes:
        if self.state not in (_IDLE, _UPLOAD_IDLE) or count > self.block:
            raise self._stall()
        if self.flash.protected:
            raise self._stall(_VENDOR)
        if number == 0:
            self.state = _UPLOAD_IDLE
            return bytes((0x00, 0x21, 0x41, 0x92))[:count]
        at = self._pointer + (number - 2) * self.block
        data = None if number == 1 else self.flash.read(at, count)
        if data is None:
            raise self._stall(_ADDRESS)
        self.state = _UPLOAD_IDLE
        return data

    def _told(self) -> bytes:
        """Its status; asking for it is what makes it work, and what ends the work."""
        wait = 0
        if self.state == _SYNC and self._waiting is not None:
            number, data = self._waiting
            wait = self.wait_ms[data[0] if number == 0 and data[0] in self.wait_ms else -1]
            self.state = _BUSY
        elif self.state == _BUSY:
            assert self._waiting is not None
            self.status = self._do(*self._waiting)
            self._waiting = None
            self.state = _DNLOAD_IDLE if self.status == _OK else _ERROR
        elif self.state == _MANIFEST_SYNC:
            self.state, self.started = _MANIFEST, self._pointer
        return bytes((self.status,)) + wait.to_bytes(3, "little") + bytes((self.state, 0))

    def _do(self, number: int, data: bytes) -> int:
        if number:
            at = self._pointer + (number - 2) * self.block
            if not self.flash.holds(at, len(data)):
                return _ADDRESS
            return _OK if self.lies or self.flash.write(at, data) else _WRITE
        command, rest = data[0], data[1:]
        at = int.from_bytes(rest, "little")
        if command == 0x92 or (command == 0x41 and not rest):
            self.refused.append(command)
            return _VENDOR
        if command not in (0x21, 0x41) or len(rest) != 4 or not self.flash.holds(at, 1):
            return _ADDRESS
        if command == 0x21:
            self._pointer = at
            return _OK
        return _OK if self.lies or self.flash.erase([self.flash.sector_of(at)]) else _ERASE
