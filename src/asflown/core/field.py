"""What a person fills in at the field: entries on cards and flights, without the store at hand."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Any

from asflown.core.cards import Card


@dataclass(frozen=True, slots=True)
class CardEntry:
    """What was filled in on one card.

    Attributes
    ----------
    print
        Print of the card as it was filled in (see :func:`print_of`).
    seen
        Texts whose box was ticked.
    values
        What was read: name, value as typed, unit.
    at
        When, as the phone says: ISO 8601.
    """

    card: str
    print: str
    result: str
    note: str = ""
    seen: tuple[str, ...] = ()
    values: tuple[tuple[str, str, str], ...] = ()
    at: str = ""


@dataclass(frozen=True, slots=True)
class FlownEntry:
    """One flight of the test card, as it was written down."""

    number: int
    log: str = ""
    seconds: str = ""
    note: str = ""
    at: str = ""


@dataclass(frozen=True)
class FieldEntries:
    """All that was filled in on one field sheet.

    Attributes
    ----------
    name
        Who filled it in; empty where nobody said.
    """

    aircraft: str
    refit: str
    name: str
    cards: tuple[CardEntry, ...]
    flown: tuple[FlownEntry, ...]


def print_of(card: Card) -> str:
    """SHA-256 over everything a card says: a card that says something else is another one."""
    said: dict[str, Any] = asdict(card)
    del said["number"]
    text = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()


def note_of(entry: CardEntry, name: str) -> str:
    """An entry as the note of its card: what was written, what was read, by whom and when."""
    values = [f"{what} {value}{f' {unit}' if unit else ''}" for what, value, unit in entry.values if value]
    seen = [f"seen: {text}" for text in entry.seen]
    where = f"at the field{f', {entry.at}' if entry.at else ''}{f', {name}' if name else ''}"
    return "; ".join([*([entry.note] if entry.note else []), *values, *seen, where])
