"""A simulated board whose flash is a file: what was written to it stays, also when the program is killed."""

from __future__ import annotations

import errno
import mmap
import os
import select
import threading
from pathlib import Path
from typing import Protocol

from asflown.core.image.processors import PROCESSORS
from asflown.demo.flash import SimulatedFlash
from asflown.errors import InputError

#: Which processor a file of so many bytes plays.
_PLAYS = {512 * 1024: "STM32F722xE", 1024 * 1024: "STM32F407xG", 2048 * 1024: "STM32H743xI"}


def flash_in(path: str) -> tuple[SimulatedFlash, int]:
    """The flash in a file, and the identifier of the chip it plays.

    Raises
    ------
    InputError
        When there is no such file, its name does not end in ``.flash`` (a slip of the pen must not erase
        something else), or no processor has so much flash.
    """
    place = Path(path)
    if place.suffix != ".flash":
        raise InputError("is no simulated board's flash: its name would end in .flash", where=path)
    size = place.stat().st_size if place.is_file() else -1
    if size not in _PLAYS:
        what = "is no file" if size < 0 else f"has {size} bytes; no simulated board has so much flash"
        raise InputError(what, where=path, next_step="make one: asflown demo FOLDER --board")
    processor = PROCESSORS[_PLAYS[size]]
    with place.open("r+b") as file:
        memory = mmap.mmap(file.fileno(), 0)
    sectors = tuple((sector.start, sector.size) for sector in processor.sectors)
    return SimulatedFlash(sectors, memory), processor.chip_id or 0


class Simulated(Protocol):
    """Something that takes bytes and gives the answers."""

    def feed(self, data: bytes) -> bytes:
        """The answer to some bytes."""


class PtyBoard:
    """A simulated board behind a pseudo-terminal.

    Attributes
    ----------
    device
        Path of the terminal, for whoever talks to the board.
    """

    def __init__(self, loader: Simulated) -> None:
        self.loader = loader
        self._board, self._host = os.openpty()
        import tty

        tty.setraw(self._host)
        self.device = os.ttyname(self._host)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="simulated board", daemon=True)
        self._thread.start()

    def _work(self) -> None:
        while not self._stop.is_set():
            ready, _, _ = select.select([self._board], [], [], 0.05)
            if not ready:
                continue
            try:
                data = os.read(self._board, 4096)
            except OSError as error:
                if error.errno == errno.EIO:  # nobody has it open
                    continue
                return
            answer = self.loader.feed(data)
            while answer:
                answer = answer[os.write(self._board, answer) :]

    def close(self) -> None:
        """Unplug it."""
        self._stop.set()
        self._thread.join(2)
        os.close(self._host)
        os.close(self._board)
