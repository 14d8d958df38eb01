"""The words of one firmware's text terminal, as a person pins them: none is built in."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

#: How a line may end when it is typed.
LINE_ENDS = {"cr": "\r", "lf": "\n", "crlf": "\r\n"}


@dataclass(frozen=True)
class TerminalWords:
    """What to type at a firmware's terminal, and how to read what it prints.

    Attributes
    ----------
    firmware
        Of which every release speaks so.
    listing, store, restart
        The words that print every setting, that store what is in use, that restart; ``None`` where the
        firmware has none: then it is done by hand.
    enter
        Words to type once before anything else, ``None`` where the terminal is there at once.
    prompt
        What it prints when it waits for a line; ``None``: found out.
    complaint
        Texts that only stand in a refusal; empty: whatever is no plain yes and no usual answer.
    never
        Patterns of lines that must never be sent.
    quiet
        Seconds without a byte after which an answer is taken for whole.
    restarts_in
        Seconds a restart may take.
    speed
        Of a serial line, bits a second.
    """

    firmware: str
    listing: str
    store: str | None = None
    restart: str | None = None
    enter: str | None = None
    prompt: str | None = None
    complaint: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    line_end: str = "crlf"
    quiet: float = 1.0
    restarts_in: float = 20.0
    speed: int = 115_200

    @property
    def end(self) -> str:
        """The characters a typed line ends with."""
        return LINE_ENDS[self.line_end]

    def typed(self) -> Iterator[tuple[str, str]]:
        """Name and text of every pinned word that may be typed."""
        for name in ("enter", "listing", "store", "restart"):
            text = getattr(self, name)
            if text is not None:
                yield name, text

    def complains(self, reply: str) -> bool | None:
        """Whether a reply is a refusal; ``None`` where the pinned texts say nothing."""
        if not self.complaint:
            return None
        return any(text in reply for text in self.complaint)


#: Plain words that make a line one that could start a motor: it never leaves, whatever a file says.
_STARTS = frozenset({"arm", "arming", "disarm", "takeoff", "launch", "spin", "throttle", "motortest", "fly"})
_WORD = re.compile(r"[A-Za-z]+")


class Guard:
    """Lets only lines through that were agreed to: pinned words, and lines of a listing that was written out.

    Nothing else is ever sent, so that nothing can arm or spin a motor by a slip. Of the lines that were
    agreed to, those a person's file marks are held back too, and those whose first word is one that starts
    motors.

    Parameters
    ----------
    lines
        Lines of the listing that may be sent.
    """

    def __init__(self, words: TerminalWords, lines: Iterable[str] = ()) -> None:
        self._words = words
        self._pinned = {text for _, text in words.typed()}
        self._lines = frozenset(lines)
        self._never = tuple(re.compile(pattern) for pattern in words.never)

    def refuses(self, line: str) -> str | None:
        """Why a line must not be sent, ``None`` where it may."""
        first = _WORD.match(line.strip())
        if first is not None and first.group().casefold() in _STARTS:
            return "its first word is one that could start a motor"
        for pattern in self._never:
            if pattern.search(line):
                return f"your file marks it: {pattern.pattern}"
        if line and line not in self._pinned and line not in self._lines:
            return "it is neither a pinned word nor a line of the listing that was written out"
        if any(not character.isprintable() and character != "\t" for character in line):
            return "it holds a character that is no text"
        return None
