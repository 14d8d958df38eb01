"""Text terminals at this machine's ports, and simulated ones (``simulated:text:FILE``)."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from asflown.core.link.words import Guard, TerminalWords

if TYPE_CHECKING:
    from asflown.adapters.load.serial_line import SerialLine
    from asflown.app.needs import Terminal
    from asflown.demo.board_file import PtyBoard

SIMULATED = "simulated:text:"


class AllTerminals:
    """Opens terminals; a name that begins with ``simulated:text:`` is a board of the worked example."""

    def __init__(self, speed: int | None = None) -> None:
        self._speed = speed
        self._board: PtyBoard | None = None

    def open(self, name: str, words: TerminalWords, guard: Guard) -> Terminal:
        """The terminal behind a port.

        Raises
        ------
        DeviceError, InputError
            When it cannot be opened.
        """
        from asflown.adapters.link.text_terminal import TextTerminal

        device = self._simulated(name) if name.startswith(SIMULATED) else name

        def opened() -> SerialLine:
            from asflown.adapters.load.serial_line import SerialLine

            return SerialLine(device, self._speed or words.speed, even_parity=False)

        return TextTerminal(opened, words, guard, time.monotonic, time.sleep)

    def _simulated(self, name: str) -> str:
        from asflown.demo import board_state
        from asflown.demo.board_file import PtyBoard
        from asflown.demo.terminal import SimulatedTerminal

        if self._board is None:
            path = name.removeprefix(SIMULATED)
            board = board_state.loaded(path)
            self._board = PtyBoard(SimulatedTerminal(board, changed=lambda: board_state.keep(path, board)))
        return self._board.device
