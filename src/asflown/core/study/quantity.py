"""What a measured quantity is: its name, unit, what it says, and the method behind it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from asflown.core.signals import AXES

#: What stands for what in a name.
PLACES = {
    "{axis}": rf"(?:{'|'.join(AXES)})",
    "{xyz}": r"[xyz]",
    "{n}": r"[1-9][0-9]?",
    "{order}": r"order_[1-9][0-9]?",
}


@dataclass(frozen=True, slots=True)
class Method:
    """How quantities are computed.

    Attributes
    ----------
    key
        What evidence names it by.
    text
        One or two sentences.
    source
        Standard, book or practice it comes from, and from memory where so.
    """

    key: str
    text: str
    source: str


@dataclass(frozen=True)
class Quantity:
    """One quantity, or a family of them.

    Attributes
    ----------
    name
        Its path in the JSON, e.g. ``axes.{axis}.bandwidth``; see :data:`PLACES` for the braces.
    title
        As a table calls it, without the group.
    unit
        In which evidence states it.
    says
        What it tells, one sentence.
    method
        Key of its :class:`Method`.
    """

    name: str
    title: str
    unit: str
    says: str
    method: str

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """Matches every name of the family."""
        parts = re.split(r"(\{\w+\})", self.name)
        return re.compile("".join(PLACES[part] if part in PLACES else re.escape(part) for part in parts))

    @property
    def group(self) -> str:
        """The first part of the name."""
        return self.name.split(".")[0]
