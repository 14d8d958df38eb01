"""A simulated board: an in-memory firmware behind a text terminal; no code shared with the listing reader."""

from __future__ import annotations

import random
from collections.abc import Mapping

from asflown.core.record import Key
from asflown.demo.firmware.boards import for_board
from asflown.demo.firmware.releases import Firmware, by_id
from asflown.demo.grammar import Choose, Command, Grammar, MarramGrammar, Nothing, Write
from asflown.demo.memory import Fate, Memory

#: Longest line the terminal takes.
LONGEST = 200


class SimulatedBoard:
    """A board running a release.

    Parameters
    ----------
    release
        A release, or the identifier of one of marram's.
    values
        What differs from factory; stored.
    board
        The board's name, printed in listings.
    grammar
        The terminal's lines; marram's where not given.
    seed
        Where given, one paste in three stops half-way at a line drawn from it.
    """

    def __init__(
        self,
        release: Firmware | str,
        values: Mapping[Key, str] | None = None,
        *,
        board: str = "wrackline-2",
        grammar: Grammar | None = None,
        seed: int | None = None,
    ) -> None:
        self.board = board
        self.grammar: Grammar = grammar or MarramGrammar()
        self._memory = Memory(for_board(_firmware(release), board))
        self._bank: str | None = None
        self._random = random.Random(seed) if seed is not None else None
        self._stop_after: int | None = None
        self.is_cut = False
        self._memory.put(values or {})

    @property
    def release(self) -> str:
        """Identifier of the release whose image is loaded."""
        return self._memory.firmware.id

    @property
    def firmware(self) -> Firmware:
        """The release whose image is loaded."""
        return self._memory.firmware

    @property
    def unsaved(self) -> tuple[Key, ...]:
        """Settings that a restart would lose."""
        return self._memory.unsaved

    def values(self) -> Mapping[Key, str]:
        """Every setting as printed."""
        return self._memory.values()

    def in_use(self) -> str | None:
        """The bank in use, where the release has banks and a setting that chooses one."""
        banks = self.firmware.banks
        chosen = self.values().get(Key("set.in.use"))
        if not banks:
            return None
        return banks[int(chosen) - 1] if chosen is not None else banks[0]

    def listing(self, extent: str = "full") -> bytes:
        """A capture of the listing: ``full`` or ``changes``, with prompt, typed command and line ends CR LF.

        Raises
        ------
        ValueError
            For another word.
        """
        if extent not in ("full", "changes"):
            raise ValueError(f"extent is 'full' or 'changes', got '{extent}'")
        words = "list all" if extent == "full" else "list changed"
        lines = [f"{self.grammar.prompt}{words}", *self._rows(extent == "changes"), self.grammar.prompt]
        return "\r\n".join(lines).encode()

    def _rows(self, changes_only: bool) -> list[str]:
        values = self.values()
        rows = self.grammar.print(self.firmware, values, self.board, self.in_use(), changes_only)
        return list(rows)

    def type(self, line: str) -> str:
        """Type one line; the reply, without prompt, lines parted by LF, empty where nothing is said."""
        if self.is_cut:
            return ""
        if len(line) > LONGEST:
            return f"! line longer than {LONGEST}"
        asked = self.grammar.read(line.rstrip("\r\n"), self.firmware)
        if isinstance(asked, Nothing):
            return ""
        if isinstance(asked, Choose):
            return self._choose(asked)
        if isinstance(asked, Write):
            return self._write(asked)
        return self._command(asked)

    def _choose(self, asked: Choose) -> str:
        if asked.bank not in self.firmware.banks:
            return f"! no {asked.bank}"
        self._bank = asked.bank
        return ""

    def _write(self, asked: Write) -> str:
        parameter = self.firmware.by_name.get(asked.name)
        if parameter is None:
            return self.grammar.complaint(asked, "is no setting of this release")
        if parameter.banks and self._bank is None:
            return self.grammar.complaint(asked, "needs a bank chosen first")
        key = Key(asked.name, self._bank if parameter.banks else None, asked.index)
        if not self._memory.has(key):
            return self.grammar.complaint(asked, "has no such place")
        took = self._memory.take(key, asked.value)
        if took.fate is Fate.TAKEN:
            return self.grammar.kept(asked)
        return self.grammar.complaint(asked, took.says)

    def _command(self, asked: Command) -> str:
        words = " ".join(asked.words)
        acts = {"store": self.save, "restart": self.restart, "forget all": self.erase}
        if words in acts:
            acts[words]()
            return "done"
        if words in ("list all", "list changed"):
            return "\n".join(self._rows(words == "list changed"))
        if words == "help":
            return "list all, list changed, store, restart, forget all; a row of the listing sets a value"
        return f"! what is '{words[:40]}'?"

    def stop_after(self, lines: int | None) -> None:
        """Ask that the next paste stops after so many lines: the link is cut, and the board must restart."""
        self._stop_after = lines

    def paste(self, text: str) -> str:
        """Type every line; what the terminal showed: prompt, echo, replies, as a terminal program saves it.

        Where the paste stops half-way the transcript ends in the middle of the next line; what was taken
        is in use but not stored.
        """
        lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        if lines and not lines[-1]:
            lines.pop()
        stop = self._stop_line(len(lines))
        shown: list[str] = []
        for number, line in enumerate(lines):
            if stop is not None and number >= stop:
                self.is_cut = True
                shown.append(f"{self.grammar.prompt}{line[: len(line) // 2]}")
                return "\r\n".join(shown)
            reply = self.type(line)
            shown.append(f"{self.grammar.prompt}{line}")
            shown += reply.split("\n") if reply else []
        return "\r\n".join([*shown, self.grammar.prompt])

    def _stop_line(self, count: int) -> int | None:
        stop, self._stop_after = self._stop_after, None
        if stop is None and self._random is not None and self._random.random() < 1 / 3:
            return self._random.randrange(count) if count else None
        return stop if stop is not None and stop < count else None

    def save(self) -> None:
        """Store what is in use."""
        self._memory.store()

    def restart(self) -> None:
        """Restart: what was not stored is lost, the bank chosen by typing too."""
        self._memory.restart()
        self._bank = None
        self.is_cut = False

    def erase(self) -> None:
        """Every setting to factory, then restart."""
        self._memory.erase()
        self.restart()

    def load_image(self, release: Firmware | str) -> None:
        """Write another image: the settings are erased, and the board restarts."""
        self._memory.load(for_board(_firmware(release), self.board))
        self.restart()

    def make_on_aircraft(self, values: Mapping[Key, str]) -> None:
        """What a person does on the aircraft (a calibration) or flying counts up; stored at once."""
        self._memory.put(values)


def _firmware(release: Firmware | str) -> Firmware:
    return by_id(release) if isinstance(release, str) else release
