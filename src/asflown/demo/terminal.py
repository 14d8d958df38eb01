"""The simulated board's text terminal, character by character, with what goes wrong on real ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from asflown.demo.device import SimulatedBoard

#: The words of the invented firmware's terminal, as a person pins them.
WORDS = """\
# the terminal of marram, from its manual
firmware = "marram"
listing = "list all"
store = "store"
restart = "restart"
complaint = ["!"]
quiet = 0.5
"""


@dataclass
class Trouble:
    """What goes wrong, by the number of the typed line (1, 2, …).

    Attributes
    ----------
    lost
        Lines that never arrive.
    reboots
        Lines at which the board restarts by itself: they are lost, and what was not stored too.
    refused
        Settings whose lines are refused, whatever they say.
    """

    lost: set[int] = field(default_factory=set)
    reboots: set[int] = field(default_factory=set)
    refused: set[str] = field(default_factory=set)


class SimulatedTerminal:
    """Takes characters, and prints.

    Parameters
    ----------
    echo
        Whether it shows what is typed.
    changed
        Called when something was stored.
    """

    def __init__(
        self,
        board: SimulatedBoard,
        *,
        echo: bool = True,
        trouble: Trouble | None = None,
        changed: Callable[[], None] = lambda: None,
    ) -> None:
        self.board, self.echo, self.changed = board, echo, changed
        self.trouble = trouble or Trouble()
        self.typed: list[str] = []
        self._line = ""
        self._after_cr = False

    def feed(self, data: bytes) -> bytes:
        """What it prints when some characters are typed."""
        shown = []
        for character in data.decode("utf-8", "replace"):
            if character == "\n" and self._after_cr:
                self._after_cr = False
                continue
            self._after_cr = character == "\r"
            if character not in "\r\n":
                self._line += character
                continue
            line, self._line = self._line, ""
            shown.append(self._do(line))
        return "".join(shown).encode()

    def _do(self, line: str) -> str:
        prompt = self.board.grammar.prompt
        if line.strip():
            self.typed.append(line)
        number = len(self.typed)
        if line.strip() and number in self.trouble.lost:
            return ""
        echo = line if self.echo else ""
        if line.strip() and number in self.trouble.reboots:
            self.board.restart()
            return f"\r\n\r\n{self.board.board} starts\r\n{prompt}"
        reply = self._reply(line)
        self.changed()
        rows = "".join(f"{row}\r\n" for row in reply.split("\n")) if reply else ""
        return f"{echo}\r\n{rows}{prompt}"

    def _reply(self, line: str) -> str:
        words = line.split()
        if words and words[0] in self.trouble.refused:
            return f"! {words[0]} is not taken"
        return self.board.type(line)
