"""What becomes of one setting: the kinds, and the line of a carry-over that says so."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from asflown.core.carry.before import Before
from asflown.core.catalog import Consequence
from asflown.core.record import Key, digest_of


class Disposition(StrEnum):
    """What becomes of one setting."""

    KEEP = "keep"
    RENAME = "rename"
    CONVERT = "convert"
    SPLIT = "split"
    MERGE = "merge"
    RETIRE = "retire"
    ADOPT = "adopt"
    REDO = "redo"
    DECIDE = "decide"


#: Dispositions the account line counts as converted.
CONVERTED = frozenset({Disposition.RENAME, Disposition.CONVERT, Disposition.SPLIT, Disposition.MERGE})

#: What each kind becomes when a plan is read backwards.
REVERSED = {
    Disposition.KEEP: Disposition.KEEP,
    Disposition.RENAME: Disposition.RENAME,
    Disposition.CONVERT: Disposition.CONVERT,
    Disposition.SPLIT: Disposition.MERGE,
    Disposition.MERGE: Disposition.SPLIT,
    Disposition.RETIRE: Disposition.ADOPT,
    Disposition.ADOPT: Disposition.RETIRE,
    Disposition.REDO: Disposition.REDO,
}


class Basis(StrEnum):
    """What a disposition rests on."""

    NOTE = "change note"
    CATALOG = "both catalogs"
    SAME_NAME = "same name"
    FACTORY = "factory value"
    ABSENT = "not in the new release"
    INFERRED = "inferred"
    BELONGING = "belonging"
    DECISION = "decision"


class Cause(StrEnum):
    """Why a line waits for a person; lines with one cause are decided together."""

    MEANING_NOTE = "meaning changed"
    NEW_UNIT = "other unit, type or range"
    RENUMBERED = "choices renumbered"
    NOTE_DISAGREES = "note and catalog disagree"
    CONVERSION = "value does not convert"
    OUT_OF_RANGE = "out of the new range"
    SUCCESSOR = "successor not stated"
    VANISHED = "gone without a note"
    VANISHED_UNTOUCHED = "gone without a note, never changed"
    MOVED_FACTORY = "factory value moved"
    UNSTATED = "meaning not stated"
    NO_PLACE = "bank or index not in the new release"
    NEW = "new setting"
    WIRING = "wiring of the other board"
    OWNER_UNKNOWN = "belonging not stated"
    PREDICTED = "predicted to fly badly"


@dataclass(frozen=True, slots=True)
class Found:
    """A setting of the old side.

    Attributes
    ----------
    implied
        Not in the listing itself: a changes-only listing left it at its factory value.
    """

    key: Key
    value: str
    implied: bool = False


@dataclass(frozen=True, slots=True)
class Left:
    """A setting of the new side.

    Attributes
    ----------
    value
        The value to be left; ``None`` when the device makes it itself (a calibration, a read-only value).
    factory
        The new release's factory value, ``None`` where not stated.
    """

    key: Key
    value: str | None
    factory: str | None = None


@dataclass(frozen=True)
class Option:
    """One way to settle an open line.

    Attributes
    ----------
    id
        Word a person types: ``keep``, ``factory``, ``convert``, ``rename``, ``retire``, ``nearest`` …
    is_recommended
        Whether the tool would take it; shown, never taken by itself.
    """

    id: str
    label: str
    disposition: Disposition
    new: tuple[Left, ...] = ()
    is_recommended: bool = False


@dataclass(frozen=True)
class Settled:
    """What a person decided about a line."""

    option: str
    reason: str
    who: str
    at: str


@dataclass(frozen=True)
class Line:
    """One line of a carry-over: lists ``old`` and ``new``, so that splits and merges count.

    Attributes
    ----------
    cause_detail
        Separates groups within one cause, e.g. ``s -> ms``.
    candidates
        The names considered as successor, best first, with confidence 0 to 1.
    steps
        What each release on the way did, oldest first, when change notes were chained.
    copied
        What copying number for number would have done, where that differs.
    before
        What persons decided earlier about the same setting between the same releases.
    ways_before
        Ways that are offered for no other reason than that they were decided before; the word of each says
        what it is, so that it never comes to mean another one.
    """

    id: str
    disposition: Disposition
    old: tuple[Found, ...]
    new: tuple[Left, ...]
    why: str
    basis: Basis
    consequence: Consequence
    consequence_why: str | None = None
    cause: Cause | None = None
    cause_detail: str = ""
    options: tuple[Option, ...] = ()
    candidates: tuple[tuple[str, float], ...] = ()
    steps: tuple[str, ...] = ()
    copied: str | None = None
    settled: Settled | None = None
    before: Before | None = None
    ways_before: tuple[Option, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether it waits for a person."""
        return self.disposition is Disposition.DECIDE

    @property
    def is_new_only(self) -> bool:
        """Whether it is about a new parameter that no found setting goes into."""
        return not self.old

    @property
    def group(self) -> str:
        """Identifier of the group it is decided in; empty for lines that were never open."""
        if self.cause is None:
            return ""
        if self.before is not None and self.before.together:
            return self.before.together
        word = self.cause.name.lower().replace("_", "-")
        return f"{word}.{_typable(self.cause_detail)}" if self.cause_detail else f"{word}.{self.consequence}"

    @property
    def ways(self) -> tuple[Option, ...]:
        """The options in the order they are offered: what was decided before stands first."""
        own = (*self.options, *self.ways_before)
        if self.before is None or not self.before.offered_first:
            return own
        first = self.before.offered_first
        agreed = (
            self.before.option if self.before.typed is None else None
        )  # typed: the value is to be looked at
        marked = (replace(option, is_recommended=option.id == agreed) for option in own)
        return tuple(sorted(marked, key=lambda option: option.id not in first))

    @property
    def fingerprint(self) -> str:
        """Hash over what a decision about this line rests on: found values, cause and options."""
        return digest_of(
            [
                [[str(f.key), f.value] for f in self.old],
                self.cause or "",
                [[o.id, o.disposition, [[str(n.key), n.value] for n in o.new]] for o in self.options],
            ]
        )[:16]

    def reverse(self) -> Line:
        """The same line read from as left to as found.

        Raises
        ------
        ValueError
            When the line is still open.
        """
        if self.is_open:
            raise ValueError(f"line {self.id} is still to decide and has no reverse")
        old = tuple(Found(n.key, n.value if n.value is not None else "") for n in self.new)
        new = tuple(Left(f.key, f.value) for f in self.old)
        return replace(self, disposition=REVERSED[self.disposition], old=old, new=new)


def _typable(text: str) -> str:
    """A text as a word that can be typed at any shell without quotes."""
    spoken = re.sub(r"\s*-?>\s*", "-to-", text).replace("?", "none")
    return re.sub(r"-{2,}", "-", re.sub(r"[^A-Za-z0-9_.+-]+", "-", spoken)).strip("-") or "other"


def line_id(old: Iterable[Key], new: Iterable[Key] = ()) -> str:
    """Short stable identifier of a line, made from its found keys (or its new keys if it has none)."""
    old_texts = sorted(map(str, old))
    body = ["old", *old_texts] if old_texts else ["new", *sorted(map(str, new))]
    return digest_of(body)[:8]
