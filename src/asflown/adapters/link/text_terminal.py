"""A firmware's text terminal over a line of bytes: typed lines, and what it prints until it is quiet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from asflown.core.link.words import Guard, TerminalWords
from asflown.errors import DeviceError

#: Longest a single answer may take, s, however it trickles in; most bytes of it.
LONGEST, MOST = 120.0, 4_000_000
#: Once the prompt stands at the end of what came, so much quiet is enough: a part of the usual quiet.
AFTER_PROMPT = 1 / 20


class Line(Protocol):
    """A line of bytes: 8 data bits, no parity, 1 stop bit."""

    def send(self, data: bytes) -> None:
        """Send all of it."""

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""

    def close(self) -> None:
        """Let go of it."""


class TextTerminal:
    """A terminal that a guard stands before.

    Parameters
    ----------
    opens
        Opens the line; called again after a restart.
    seconds, pause
        A clock that only goes forward, and waiting.

    Raises
    ------
    DeviceError
        From every method: ``lost`` when the line is gone, ``not allowed`` when the guard refuses a line.
    """

    def __init__(
        self,
        opens: Callable[[], Line],
        words: TerminalWords,
        guard: Guard,
        seconds: Callable[[], float],
        pause: Callable[[float], None],
    ) -> None:
        self.words, self.guard = words, guard
        self._opens, self._seconds, self._pause = opens, seconds, pause
        self._line = opens()
        self.prompt = words.prompt

    def wake(self) -> bytes:
        """Type an empty line; what stands last then is the prompt, where none is pinned."""
        self._line.receive(65_536, self.words.quiet * AFTER_PROMPT)
        self.prompt = self.words.prompt
        shown = self.type(self.words.enter or "")
        if self.prompt is None:
            last = shown.decode("utf-8", "replace").replace("\r", "\n").rsplit("\n", 1)[-1]
            self.prompt = last if last.strip() else None
        return shown

    def reopen(self) -> None:
        """Open the line again, as after a restart of the board."""
        self._line.close()
        end = self._seconds() + self.words.restarts_in
        while True:
            try:
                self._line = self._opens()
                return
            except DeviceError:
                if self._seconds() > end:
                    raise
                self._pause(0.2)

    def close(self) -> None:
        """Let go of the line."""
        self._line.close()

    def type(self, line: str) -> bytes:
        """Type one line; everything the terminal printed until it was quiet."""
        why = self.guard.refuses(line)
        if why is not None:
            raise DeviceError(f"typing {line!r}", why, trouble="not allowed")
        self._line.send((line + self.words.end).encode())
        return self._answer()

    def _answer(self) -> bytes:
        """What is printed until the prompt and a moment of quiet, or a long quiet."""
        made = bytearray()
        begun = self._seconds()
        prompt = (self.prompt or "").encode()
        while self._seconds() - begun < LONGEST and len(made) < MOST:
            is_at_prompt = bool(prompt) and _ends_in(bytes(made[-len(prompt) - 2 :]), prompt)
            quiet = self.words.quiet * (AFTER_PROMPT if is_at_prompt else 1.0)
            first = self._line.receive(1, quiet)
            if not first:
                break
            made += first + self._line.receive(4096, 0.0)
        return bytes(made)


def _ends_in(data: bytes, prompt: bytes) -> bool:
    """Whether a prompt stands at the end, on a line of its own."""
    if not data.endswith(prompt):
        return False
    before = data[: -len(prompt)]
    return not before or before[-1:] in b"\r\n"
