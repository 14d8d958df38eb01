"""Settings and records: what was on an aircraft at one moment."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property


@dataclass(frozen=True, slots=True, order=True)
class Key:
    """What identifies one setting on an aircraft.

    Attributes
    ----------
    name
        The parameter's name as the firmware prints it.
    bank
        The section or bank the setting stands in, ``None`` outside banks. The same name in two banks
        is two settings.
    index
        Position in an index group (``"3"`` of ``name[3]``), ``None`` where there is none.
    """

    name: str
    bank: str | None = None
    index: str | None = None

    def __str__(self) -> str:
        text = self.name if self.index is None else f"{self.name}[{self.index}]"
        return text if self.bank is None else f"{self.bank}/{text}"

    def sort_key(self) -> tuple[str, str, tuple[int, str]]:
        """Order by bank, name, then index as a number where it is one."""
        index = self.index or ""
        number = int(index) if index.isdecimal() else -1
        return (self.bank or "", self.name, (number, index))


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: its key, its value exactly as printed, and where it was read.

    Attributes
    ----------
    value
        The value as text, without quotes. Never rewritten, never rounded.
    line
        1-based line of the original it came from; ``None`` where it came from no text.
    unit
        The unit printed beside the value, where the listing prints one.
    """

    key: Key
    value: str
    line: int | None = None
    unit: str | None = None


class Extent(StrEnum):
    """Whether a listing shows every setting or only those that differ from factory."""

    FULL = "full"
    CHANGES_ONLY = "changes-only"
    UNKNOWN = "unknown"


class Moment(StrEnum):
    """When in the work a record was taken."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"
    FACTORY = "factory"
    READING = "reading"


@dataclass(frozen=True, slots=True)
class Original:
    """The bytes something came from, kept under their SHA-256."""

    sha256: str
    size: int
    name: str
    #: ``listing``, ``catalog``, ``overlay``, ``notes``, ``replies``, ``image`` …
    kind: str


@dataclass(frozen=True, slots=True)
class Unread:
    """A line of an original that was not understood, or was set aside by a person.

    Attributes
    ----------
    said
        What the person said it is (``"no setting"``), ``None`` while it is open.
    """

    line: int
    text: str
    said: str | None = None


@dataclass(frozen=True, slots=True)
class Repeated:
    """A key that stands more than once; the last one wins unless told otherwise."""

    key: str
    lines: tuple[int, ...]
    values: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Whether the lines give different values, so that it matters which one counts."""
        return len(set(self.values)) > 1


@dataclass(frozen=True)
class Record:
    """What was on an aircraft, or on one of its devices, at one moment. Never changed.

    Attributes
    ----------
    id
        ``<aircraft>-<sheet>``, e.g. ``plover-001``; given by the store.
    device
        ``board`` for the flight controller, otherwise the fitted device's name.
    release, board
        Identifiers as the person gave them; ``None`` where not stated.
    taken
        ISO 8601 time with zone.
    active_banks
        Which bank is active per selector word, e.g. ``{"profile": "2"}``; a fact of the record.
    originals
        The files it came from; the first one is the listing the settings were read from.
    repeated
        Settings that stand more than once in the listing, each with every value it shows.
    repeated_said
        Which of these a person said counts: ``last`` or ``first``; ``None`` while nobody said so.
    """

    id: str
    aircraft: str
    device: str
    moment: Moment
    release: str | None
    board: str | None
    taken: str
    settings: tuple[Setting, ...]
    extent: Extent = Extent.UNKNOWN
    active_banks: Mapping[str, str] = field(default_factory=dict)
    unread: tuple[Unread, ...] = ()
    originals: tuple[Original, ...] = ()
    #: The pinned shape pattern the listing was read with, where a person pinned one.
    shape: str | None = None
    remarks: tuple[str, ...] = ()
    #: How many private settings a hand-over left out: such a record is no whole one.
    left_out: int = 0
    repeated: tuple[Repeated, ...] = ()
    repeated_said: str | None = None

    @cached_property
    def values(self) -> Mapping[Key, str]:
        """Value by key."""
        return {setting.key: setting.value for setting in self.settings}

    @cached_property
    def by_key(self) -> Mapping[Key, Setting]:
        """Setting by key."""
        return {setting.key: setting for setting in self.settings}

    @property
    def open_lines(self) -> tuple[Unread, ...]:
        """Lines nobody has said anything about yet."""
        return tuple(line for line in self.unread if line.said is None)

    @property
    def open_repeats(self) -> tuple[Repeated, ...]:
        """Settings that stand more than once with different values, while nobody said which counts."""
        return () if self.repeated_said else tuple(again for again in self.repeated if again.differs)

    @cached_property
    def digest(self) -> str:
        """SHA-256 over what the record says: identity, settings and originals."""
        body: dict[str, object] = {
            "aircraft": self.aircraft,
            "device": self.device,
            "moment": self.moment,
            "release": self.release,
            "board": self.board,
            "extent": self.extent,
            "active_banks": dict(sorted(self.active_banks.items())),
            "settings": [
                [s.key.bank, s.key.name, s.key.index, s.value, s.unit]
                for s in sorted(self.settings, key=lambda s: s.key.sort_key())
            ],
            "unread": [[u.line, u.text, u.said] for u in self.unread],
            "originals": [o.sha256 for o in self.originals],
        }
        if self.repeated:
            body["repeated"] = [[again.key, again.values] for again in self.repeated]
            body["repeated_said"] = self.repeated_said
        if self.left_out:
            body["left_out"] = self.left_out
        return digest_of(body)


def digest_of(body: object) -> str:
    """SHA-256 (hex) of a JSON-like body, written with sorted keys and no white space (UTF-8)."""
    text = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
