r"""One chain over everything the store was ever told, in the order it was told.

Logbooks chain their own entries. Documents and originals stand in no logbook of their own, so each write
(a document's revision, an original, an entry) also adds a line to the ledger, and each line carries the
hash of the line before. A row that was changed, taken out or put in by hand then has no line that fits.

    hash = SHA-256( previous + "\n" + what )
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator

from asflown.core.logbook import FIRST
from asflown.errors import Fault


def line_of_document(kind: str, id: str, revision: int, sha256: str, at: str) -> str:
    """What the ledger says of a document's revision."""
    return f"document {kind} {id} {revision} {sha256} {at}"


def line_of_original(sha256: str, size: int, kind: str, at: str, path: str, name: str) -> str:
    """What the ledger says of an original."""
    return f"original {sha256} {size} {kind} {at} {path} {name}"


def line_of_entry(book: str, number: int, hash: str) -> str:
    """What the ledger says of a logbook entry."""
    return f"entry {book} {number} {hash}"


def add(connection: sqlite3.Connection, what: str) -> None:
    """Add a line; the caller is inside a transaction."""
    row = connection.execute("SELECT number, hash FROM ledger ORDER BY number DESC LIMIT 1").fetchone()
    number, previous = (row[0], row[1]) if row else (0, FIRST)
    connection.execute(
        "INSERT INTO ledger VALUES (?, ?, ?, ?)", (number + 1, what, previous, _hash(previous, what))
    )


def _hash(previous: str, what: str) -> str:
    return hashlib.sha256(f"{previous}\n{what}".encode("utf-8", "surrogatepass")).hexdigest()


def rows(connection: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    """The ledger's line of every row that is kept, and words for the row."""
    for kind, id, revision, sha256, at in connection.execute(
        "SELECT kind, id, revision, sha256, at FROM document ORDER BY at, kind, id, revision"
    ):
        yield line_of_document(kind, id, revision, sha256, at), f"{kind} {id} revision {revision}"
    for sha256, size, kind, at, path, name in connection.execute(
        "SELECT sha256, size, kind, at, path, name FROM original ORDER BY at, sha256"
    ):
        line = line_of_original(sha256, size, kind, at, path, name)
        yield line, f"original {name} {sha256[:12]}"
    for book, number, hash in connection.execute(
        "SELECT book, number, hash FROM entry ORDER BY at, book, number"
    ):
        yield line_of_entry(book, number, hash), f"logbook {book} entry {number}"


def faults(connection: sqlite3.Connection) -> Iterator[Fault]:
    """Lines that do not follow from the line before, rows without a line, lines without a row."""
    lines: set[str] = set()
    before, expected = FIRST, 1
    for number, what, previous, hash in connection.execute("SELECT * FROM ledger ORDER BY number"):
        if number != expected:
            yield Fault(f"line {expected} is missing", "ledger")
        if previous != before:
            yield Fault("does not follow from the line before it", f"ledger line {number}")
        if _hash(previous, what) != hash:
            yield Fault("was changed after it was written", f"ledger line {number}")
        lines.add(what)
        before, expected = hash, number + 1
    for what, row in rows(connection):
        if what not in lines:
            yield Fault("was changed, or put in by hand: the ledger has no such line", row)
        lines.discard(what)
    for what in sorted(lines):
        yield Fault("is in the ledger and is not kept any more", _shortened(what))


def _shortened(what: str) -> str:
    return " ".join(part[:12] if len(part) == 64 else part for part in what.split(" "))


def last(connection: sqlite3.Connection) -> tuple[int, str] | None:
    """Number and hash of the last line, ``None`` where there is none."""
    row = connection.execute("SELECT number, hash FROM ledger ORDER BY number DESC LIMIT 1").fetchone()
    return (int(row[0]), str(row[1])) if row else None


def holds(connection: sqlite3.Connection, number: int, hash: str) -> bool:
    """Whether a line of that number has that hash; before the first line stands :data:`FIRST`."""
    if number == 0:
        return hash == FIRST
    row = connection.execute("SELECT hash FROM ledger WHERE number = ?", (number,)).fetchone()
    return row is not None and row[0] == hash
