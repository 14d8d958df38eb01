"""One talk with a firmware's terminal: everything it printed is kept, whatever becomes of the link."""

from __future__ import annotations

from asflown.app.needs import Terminal, Terminals
from asflown.core.link.words import Guard, TerminalWords
from asflown.errors import DeviceError

#: How often a restarted board is spoken to before it counts as gone; how often an unanswered line is typed.
TRIES, AGAIN = 10, 3
_IS_IT_THERE = "look at the cable, bring the board back, and run the same command: it goes on from there"


class Session:
    """An open terminal.

    Attributes
    ----------
    shown
        Everything it printed, as a terminal program would save it.
    """

    def __init__(self, terminals: Terminals, port: str, words: TerminalWords, guard: Guard) -> None:
        self.words, self.guard = words, guard
        self.shown = bytearray()
        self._terminal: Terminal = terminals.open(port, words, guard)

    def __enter__(self) -> Session:
        return self

    def __exit__(self, *_: object) -> None:
        self._terminal.close()

    @property
    def prompt(self) -> str | None:
        """What it prints when it waits for a line, where known."""
        return self._terminal.prompt

    def wake(self) -> None:
        """Bring it to where it waits for a line.

        Raises
        ------
        DeviceError
            When it prints nothing at all.
        """
        for _ in range(3):
            shown = self._terminal.wake()
            self.shown += shown
            if shown.strip():
                return
        raise DeviceError(
            "waking the terminal",
            "nothing is printed",
            trouble="silent",
            next_step="is it the right port, at the right speed? asflown host-check; is nothing else at it?",
        )

    def type(self, line: str) -> str:
        """Type a line; what was printed, as text.

        A line that nothing at all answers, no echo and no prompt, did not arrive: it is typed again.

        Raises
        ------
        DeviceError
            When nothing is printed each time.
        """
        for _ in range(AGAIN):
            shown = self._terminal.type(line)
            self.shown += shown
            if shown.strip():
                return shown.decode("utf-8", "replace")
        raise DeviceError(
            f"typing {line!r}", f"nothing is printed, {AGAIN} times", trouble="silent", next_step=_IS_IT_THERE
        )

    def capture(self) -> bytes:
        """The listing as it is printed, its own bytes.

        Raises
        ------
        DeviceError
            When nothing is printed.
        """
        shown = self._terminal.type(self.words.listing)
        self.shown += shown
        if shown.count(b"\n") < 2:
            raise DeviceError(
                f"typing {self.words.listing!r}",
                "it prints no listing",
                trouble="silent",
                next_step="try the words in the firmware's own terminal; correct them: asflown terminal add",
            )
        return (self.prompt or "").encode() + shown  # as a terminal program saves it

    def restart(self) -> None:
        """Restart the board, and wait until it answers again.

        Raises
        ------
        DeviceError
            When it does not come back.
        """
        if self.words.restart is None:
            return
        try:
            self.type(self.words.restart)
        except DeviceError as error:
            if error.trouble != "lost":  # a port that goes away shows that it restarts
                raise
        for left in reversed(range(TRIES)):
            try:
                self._terminal.reopen()
                self.wake()
                return
            except DeviceError:
                if not left:
                    raise
