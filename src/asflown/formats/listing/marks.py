"""What each line of a listing is, before and after the setting template is known."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from asflown.core.listing import PieceKind
from asflown.formats.listing.shape import SettingShape
from asflown.formats.listing.text import Line
from asflown.formats.listing.values import Found

_PROMPTED = re.compile(r"[^\s=:]{0,40}(?:[>#$%»❯]|~\$)\s+\S")


@dataclass(frozen=True, slots=True)
class Header:
    """A section header or bank selector.

    Attributes
    ----------
    text
        What qualifies the names after it.
    style
        Headers of one style are alike but for their text.
    indent
        Columns of white space before it.
    block
        Whether only deeper-indented lines belong to it.
    word, choice
        For selectors: the selector word and what it selects.
    """

    text: str
    style: str
    indent: int = 0
    block: bool = False
    word: str | None = None
    choice: str | None = None


@dataclass
class Marks:
    """The lines of a listing and what is known of each; ``None`` means open."""

    lines: list[Line]
    kinds: list[PieceKind | None]
    found: dict[int, Found] = field(default_factory=dict)
    shape_of: dict[int, int] = field(default_factory=dict)
    shapes: list[SettingShape] = field(default_factory=list)
    headers: dict[int, Header] = field(default_factory=dict)
    #: Lines that end the bank they stand in: ``}``, ``</x>``, ``end``.
    closers: set[int] = field(default_factory=set)
    #: Continuation lines: number of the line they continue.
    continues: dict[int, int] = field(default_factory=dict)
    #: What was typed behind a prompt, by line.
    commands: dict[int, str] = field(default_factory=dict)
    #: Lines with their prompt, where the prompt was taken off a header.
    prompts: dict[int, str] = field(default_factory=dict)
    #: Lines that name the record behind them, where one line of the original is a record.
    records: frozenset[int] = frozenset()
    #: Further settings of a line: rows of tables with a column for each bank.
    more: dict[int, list[Found]] = field(default_factory=dict)
    #: Whether lines of the original held several settings and were taken apart.
    split: bool = False
    remark_marks: tuple[str, ...] = ()
    ignored: frozenset[int] = frozenset()
    ends_with_break: bool = True

    def open(self) -> list[int]:
        """Numbers (from 0) of lines nothing is known of yet."""
        return [number for number, kind in enumerate(self.kinds) if kind is None]

    def text(self, number: int) -> str:
        """A line's text."""
        return self.lines[number].text

    def indent(self, number: int) -> int:
        """Columns of white space before a line's text."""
        text = self.lines[number].text
        if text[:1] not in (" ", "\t"):
            return 0
        text = text.expandtabs(8)
        return len(text) - len(text.lstrip())

    def is_prompt(self, number: int) -> bool:
        """Whether a line reads as a prompt with something typed behind it."""
        return _PROMPTED.match(self.text(number)) is not None

    def next_of_interest(self, number: int) -> int | None:
        """The next line that is no blank, remark or noise."""
        passed = (PieceKind.BLANK, PieceKind.NOISE, PieceKind.COMMENT)
        for later in range(number + 1, min(len(self.kinds), number + 200)):
            if self.kinds[later] not in passed:
                return later
        return None
