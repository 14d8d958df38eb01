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
    "{route}": r"(?:known_controller|model_free)",
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
        As a table calls it, without the group; braces stand for the parts of the name, those it leaves out
        follow behind it.
    unit
        In which evidence states it.
    says
        What it tells, one sentence.
    method
        Key of its :class:`Method`.
    is_detail
        Folded away on a sheet.
    """

    name: str
    title: str
    unit: str
    says: str
    method: str
    is_detail: bool = False

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """Matches every name of the family."""
        parts = re.split(r"(\{\w+\})", self.name)
        return re.compile("".join(PLACES[part] if part in PLACES else re.escape(part) for part in parts))

    def titled(self, name: str) -> str:
        """What one of the family is called: ``bandwidth, roll``; ``order 1: rate, all axes``."""
        places = {
            word: part.replace("_", " ")
            for word, part in zip(self.name.split("."), name.split("."), strict=True)
            if word in PLACES
        }
        title = self.title
        for word, part in places.items():
            title = title.replace(word, part) if word in title else f"{title}, {part}"
        return title

    @property
    def group(self) -> str:
        """The first part of the name."""
        return self.name.split(".")[0]
