"""Logbook entries and their hash chain."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from asflown.core.record import digest_of

#: The hash that stands before the first entry of a book.
FIRST = "0" * 64

#: Entry kinds and the version of their body.
KINDS: Mapping[str, int] = {
    "aircraft": 1,
    "record": 1,
    "comparison": 1,
    "release": 1,
    "board": 1,
    "terminal": 1,
    "link": 1,
    "plan": 1,
    "decision": 1,
    "not now": 1,
    "write-out": 1,
    "gate": 1,
    "replies": 1,
    "read-back": 1,
    "card": 1,
    "bench": 1,
    "field": 1,
    "sign-off": 1,
    "went back": 1,
    "hand-over": 1,
    "received": 1,
    "correction": 1,
    # rooms of later issues
    "image": 1,
    "load": 1,
    "port plan": 1,
    "flight": 1,
    "evidence": 1,
    "margins": 1,
    "verdict": 1,
    "calibration": 1,
}


@dataclass(frozen=True)
class Entry:
    """One logbook entry. ``hash`` covers everything else, ``previous`` chains it to the one before.

    Attributes
    ----------
    book
        The aircraft's id, or ``releases``.
    number
        1, 2, … within the book.
    version
        Version of the body's layout for this kind (see :data:`KINDS`).
    who
        Who worked, as far as the machine knows or the person said.
    """

    book: str
    number: int
    kind: str
    version: int
    at: str
    who: str
    body: Mapping[str, Any]
    previous: str
    hash: str


def entry_hash(entry: Entry) -> str:
    """SHA-256 over everything an entry says, its own hash left out."""
    return digest_of(
        {
            "book": entry.book,
            "number": entry.number,
            "kind": entry.kind,
            "version": entry.version,
            "at": entry.at,
            "who": entry.who,
            "body": entry.body,
            "previous": entry.previous,
        }
    )


def chained(
    *, book: str, number: int, kind: str, at: str, who: str, body: Mapping[str, Any], previous: str
) -> Entry:
    """Make an entry with its hash.

    Raises
    ------
    KeyError
        When the kind is not one of :data:`KINDS`.
    """
    draft = Entry(book, number, kind, KINDS[kind], at, who, body, previous, "")
    return Entry(book, number, kind, KINDS[kind], at, who, body, previous, entry_hash(draft))


@dataclass(frozen=True, slots=True)
class ChainFault:
    """Where a chain does not hold, and how."""

    book: str
    number: int
    what: str


def check_chain(entries: Iterable[Entry]) -> tuple[ChainFault, ...]:
    """Every place where the chain of one book does not hold: number, link or hash."""
    faults = []
    previous, number = FIRST, 0
    for entry in entries:
        number += 1
        if entry.number != number:
            faults.append(ChainFault(entry.book, entry.number, f"entry {number} is missing or out of order"))
            number = entry.number
        if entry.previous != previous:
            faults.append(ChainFault(entry.book, entry.number, "does not follow from the entry before it"))
        if entry_hash(entry) != entry.hash:
            faults.append(ChainFault(entry.book, entry.number, "was changed after it was written"))
        previous = entry.hash
    return tuple(faults)
