"""A small aircraft behind a simulated text terminal, on a clock that only moves when something waits."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from types import SimpleNamespace

from load_world import Time, fresh_store
from small_world import NEW, OLD, SmallBoard, World, planned, world

from asflown.adapters.link.text_terminal import TextTerminal
from asflown.app import write_out as out
from asflown.app.link.words import add_words
from asflown.app.load.prepare import Ask
from asflown.demo.terminal import SimulatedTerminal, Trouble
from asflown.errors import DeviceError

WORDS = b"""firmware = "thrush"
listing = "tell"
store = "keep"
restart = "again"
quiet = 0.5
restarts_in = 3
"""
ASK = Ask(propellers_off=True, pack_unplugged=True)


class ThrushBoard:
    """A small board as the simulated terminal wants it."""

    board = "thrush"

    def __init__(self, small: SmallBoard) -> None:
        self.small = small
        self.grammar = SimpleNamespace(prompt="thrush> ")

    def type(self, line: str) -> str:
        words = line.strip()
        if not words:
            return ""
        if words == "tell":
            return "\n".join(f"let {name} be {value}" for name, value in self.small.live.items())
        if words == "keep":
            self.small.save()
            return "kept"
        if words == "again":
            self.restart()
            return "as you wish"
        return self.small._take(words)

    def restart(self) -> None:
        self.small.restart()


class Wire:
    """Characters into the terminal; the line is cut after so many typed characters."""

    def __init__(
        self, terminal: SimulatedTerminal, time: Time, cut_after: int | None, numbers: random.Random
    ):
        self.terminal, self.time, self.cut_after, self.numbers = terminal, time, cut_after, numbers
        self.came = b""
        self.sent = 0

    def send(self, data: bytes) -> None:
        self.sent += len(data)
        if self.cut_after is not None and self.sent > self.cut_after:
            raise DeviceError("talking", "the cable is out", trouble="lost")
        self.came += self.terminal.feed(data)

    def receive(self, count: int, seconds: float) -> bytes:
        if not self.came:
            self.time.wait(seconds)
            return b""
        size = min(count, len(self.came), self.numbers.randint(1, 64))  # it trickles in
        data, self.came = self.came[:size], self.came[size:]
        self.time.wait(size * 10 / 115_200)
        return data

    def close(self) -> None:
        return None


@dataclass
class Desk:
    """The terminal of one board, whatever program talks to it."""

    small: SmallBoard
    echo: bool = True
    trouble: Trouble | None = None
    cut_after: int | None = None
    seed: int = 0

    def __post_init__(self) -> None:
        self.time = Time()
        self.terminal = SimulatedTerminal(ThrushBoard(self.small), echo=self.echo, trouble=self.trouble)
        self.wire = Wire(self.terminal, self.time, self.cut_after, random.Random(self.seed))

    @property
    def typed(self) -> list[str]:
        return self.terminal.typed

    def open(self, name, words, guard):
        return TextTerminal(lambda: self.wire, words, guard, lambda: self.time.now, self.time.wait)


_MADE: list[World] = []


def ready() -> World:
    """A refit written out, the new image on the board, the words kept; made once, then copied."""
    if not _MADE:
        made = world()
        planned(made)
        add_words(made.work, WORDS, "words.toml")
        out.write_out(made.work, "wren")
        _MADE.append(made)
    first = _MADE[0]
    store = fresh_store()
    source = first.store
    store.kept, store.sheets, store.memories = dict(source.kept), dict(source.sheets), dict(source.memories)
    store.docs = {name: list(rows) for name, rows in source.docs.items()}
    store.logs = {name: list(rows) for name, rows in source.logs.items()}
    return World(replace(first.work, store=store), store, SmallBoard(NEW))


def as_found() -> SmallBoard:
    """The board as it is found, with the old release."""
    from small_world import FOUND

    board = SmallBoard(OLD)
    board.live.update(FOUND)
    board.save()
    return board
