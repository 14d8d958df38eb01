"""How a terminal prints settings and what it understands of a typed line."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

from asflown.core.record import Key
from asflown.demo.firmware import listing
from asflown.demo.firmware.releases import Firmware


@dataclass(frozen=True, slots=True)
class Write:
    """A typed setting: its name, its index in a group, its value."""

    name: str
    index: str | None
    value: str


@dataclass(frozen=True, slots=True)
class Choose:
    """A line that says which bank the settings after it go into."""

    bank: str


@dataclass(frozen=True, slots=True)
class Nothing:
    """A line the terminal passes over: a remark, a title, a rule, a blank."""


@dataclass(frozen=True, slots=True)
class Command:
    """Any other line."""

    words: tuple[str, ...]


Typed = Write | Choose | Nothing | Command


class Grammar(Protocol):
    """The form of one terminal's lines."""

    @property
    def prompt(self) -> str:
        """What stands before a typed line."""

    def print(
        self,
        firmware: Firmware,
        values: Mapping[Key, str],
        board: str,
        in_use: str | None,
        changes_only: bool,
    ) -> Iterator[str]:
        """The lines of a listing."""

    def read(self, line: str, firmware: Firmware) -> Typed:
        """What a typed line asks for."""

    def kept(self, write: Write) -> str:
        """The answer to a value taken as typed; empty for none."""

    def complaint(self, write: Write, says: str) -> str:
        """The answer to a value not taken as typed."""


_NAME = re.compile(r"([A-Za-z][A-Za-z0-9_.\-]{0,15})(?:\[([0-9]{1,3})\])?")
_SET = re.compile(r"<<\s*(set [1-9])\s*>>")


class MarramGrammar:
    """The terminal of marram: rows of the listing typed back are taken; the unit column is not looked at."""

    prompt = "wrackline> "

    def print(
        self,
        firmware: Firmware,
        values: Mapping[Key, str],
        board: str,
        in_use: str | None,
        changes_only: bool,
    ) -> Iterator[str]:
        """The lines of a listing."""
        return listing.lines(firmware, values, board=board, in_use=in_use, changes_only=changes_only)

    def read(self, line: str, firmware: Firmware) -> Typed:
        """What a typed line asks for."""
        words = line.split()
        chosen = _SET.fullmatch(line.strip())
        if chosen:
            return Choose(chosen[1])
        if not words or words[0][0] in "#~" or tuple(words) == listing.TITLES:
            return Nothing()
        named = _NAME.fullmatch(words[0])
        is_name = named is not None and (named[1] in firmware.by_name or "." in named[1])
        if named is not None and is_name and len(words) in (2, 3):
            return Write(named[1], named[2], words[1])
        return Command(tuple(words))

    def kept(self, write: Write) -> str:
        """Nothing is said of a value taken as typed."""
        return ""

    def complaint(self, write: Write, says: str) -> str:
        """The setting's name and why."""
        return f"! {write.name} {says}"
