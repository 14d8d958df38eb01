"""The store: documents, logbooks and originals, written together or not at all."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from asflown.adapters.store import heads, ledger
from asflown.adapters.store.connect import FILE, PATIENCE, connect, in_words
from asflown.adapters.store.originals import loose_files, read_original
from asflown.adapters.store.transaction import FolderTransaction, readable
from asflown.app.needs import Clock, Document
from asflown.core.logbook import Entry
from asflown.core.record import Original
from asflown.errors import Damaged, Fault, StoreError


class FolderStore:
    """A store in a folder; satisfies :class:`asflown.app.needs.Store`.

    Parameters
    ----------
    patience
        How long to wait for another process that writes, s.
    """

    def __init__(self, folder: Path, *, clock: Clock, who: str, patience: float = PATIENCE) -> None:
        self.folder, self.clock, self.who = folder, clock, readable(who)
        self.path = folder / FILE
        self._connection = connect(folder, patience=patience)

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    # ------------------------------------------------------------------------------------ write

    @contextmanager
    def transaction(self) -> Iterator[FolderTransaction]:
        """One use case: committed whole at the end of the block, rolled back when it raises."""
        with in_words(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
        self._catch_up()
        work = FolderTransaction(self.folder, self._connection, self.clock, self.who)
        try:
            yield work
            with in_words(self.path):
                self._connection.execute("COMMIT")
        except BaseException:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            raise
        if work.has_written:
            self._keep_heads(work.books)

    def _keep_heads(self, books: set[str]) -> None:
        """Write the heads under the write lock, so that two processes do not set each other's back.

        The transaction is kept already: a disk that is full just now leaves the heads one behind.
        """
        with suppress(OSError, sqlite3.Error):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                heads.advance(self.folder, self._connection, books)
            finally:
                self._connection.execute("ROLLBACK")

    def _catch_up(self) -> None:
        """Bring heads that a killed process left behind up to date, before there is more to tell."""
        with suppress(OSError, sqlite3.Error, StoreError):
            said, last = heads.read_heads(self.folder).get(heads.LEDGER), ledger.last(self._connection)
            if last is not None and said != last:
                heads.advance(self.folder, self._connection, self.books())

    def remember(self, name: str, value: str | None) -> None:
        """Set or forget a convenience value."""
        if self.memory(name) == value:
            return
        with in_words(self.path):
            if value is None:
                self._connection.execute("DELETE FROM memory WHERE name = ?", (name,))
            else:
                self._connection.execute("INSERT OR REPLACE INTO memory VALUES (?, ?)", (name, value))

    # ------------------------------------------------------------------------------------ read

    def _all(self, query: str, *values: object) -> list[sqlite3.Row]:
        with in_words(self.path):
            return self._connection.execute(query, values).fetchall()

    def original(self, sha256: str) -> bytes:
        """The bytes of an original; raises `Damaged` when they are gone or changed."""
        rows = self._all("SELECT path FROM original WHERE sha256 = ?", sha256)
        if not rows:
            raise Damaged(
                f"no original with SHA-256 {sha256[:12]}… is kept",
                where=str(self.path),
                next_step="check what is kept: asflown verify",
            )
        return read_original(self.folder, rows[0]["path"], sha256)

    def document(self, kind: str, id: str) -> Document | None:
        """The latest revision, ``None`` where there is none."""
        rows = self._all(
            "SELECT * FROM document WHERE kind = ? AND id = ? ORDER BY revision DESC LIMIT 1", kind, id
        )
        return _document(rows[0]) if rows else None

    def documents(self, kind: str) -> tuple[Document, ...]:
        """The latest revision of each, by id."""
        rows = self._all(
            "SELECT d.* FROM document d JOIN (SELECT id, MAX(revision) AS top FROM document WHERE kind = ?"
            " GROUP BY id) l ON d.id = l.id AND d.revision = l.top WHERE d.kind = ? ORDER BY d.id",
            kind,
            kind,
        )
        return tuple(map(_document, rows))

    def revisions(self, kind: str, id: str) -> tuple[Document, ...]:
        """Every revision, oldest first."""
        rows = self._all("SELECT * FROM document WHERE kind = ? AND id = ? ORDER BY revision", kind, id)
        return tuple(map(_document, rows))

    def book(self, book: str) -> tuple[Entry, ...]:
        """A logbook, oldest entry first."""
        rows = self._all("SELECT * FROM entry WHERE book = ? ORDER BY number", book)
        return tuple(map(_entry, rows))

    def books(self) -> tuple[str, ...]:
        """Names of all logbooks."""
        return tuple(row["book"] for row in self._all("SELECT DISTINCT book FROM entry ORDER BY book"))

    def originals(self) -> tuple[Original, ...]:
        """Every original kept, in the order kept."""
        rows = self._all("SELECT * FROM original ORDER BY at, sha256")
        return tuple(Original(row["sha256"], row["size"], row["name"], row["kind"]) for row in rows)

    def memory(self, name: str) -> str | None:
        """A convenience value, not part of any logbook."""
        rows = self._all("SELECT value FROM memory WHERE name = ?", name)
        return str(rows[0]["value"]) if rows else None

    # ------------------------------------------------------------------------------------ check

    def heads(self) -> Mapping[str, tuple[int, str]]:
        """Number and hash of the last entry of each book, as they are kept a second time."""
        said = heads.read_heads(self.folder)
        return {book: head for book, head in said.items() if book != heads.LEDGER}

    def loose_files(self) -> tuple[str, ...]:
        """Files among the originals that nothing names: left by a process that was killed; no fault."""
        return loose_files(self.folder, {row["path"] for row in self._all("SELECT path FROM original")})

    def faults(self) -> tuple[Fault, ...]:
        """What does not hold in the file itself: its structure, its ledger, and how far that went."""
        try:
            broken = [row[0] for row in self._all("PRAGMA quick_check(20)") if row[0] != "ok"]
            found = [Fault(f"the file is damaged: {what}", FILE) for what in broken]
            with in_words(self.path):
                found += self._changed_bodies()
                found += ledger.faults(self._connection)
                found += self._cut_off()
        except StoreError as error:  # the finding itself
            return (Fault(f"cannot be read through: {error.what}", FILE),)
        return tuple(found)

    def _changed_bodies(self) -> Iterator[Fault]:
        for row in self._connection.execute("SELECT * FROM document ORDER BY kind, id, revision"):
            if hashlib.sha256(row["body"]).hexdigest() != row["sha256"]:
                where = f"{row['kind']} {row['id']} revision {row['revision']}"
                yield Fault("was changed after it was kept", where)

    def _cut_off(self) -> Iterator[Fault]:
        said, last = heads.read_heads(self.folder).get(heads.LEDGER), ledger.last(self._connection)
        if said is None and last is not None:
            what = "is missing or cannot be read: whether last entries were cut off cannot be told"
            yield Fault(what, heads.FILE)
        if said is not None and not ledger.holds(self._connection, *said):
            yield Fault(f"went to line {said[0]}, which is not there any more", "ledger")


def _document(row: sqlite3.Row) -> Document:
    return Document(row["kind"], row["id"], row["revision"], row["body"], row["sha256"], row["at"])


def _entry(row: sqlite3.Row) -> Entry:
    """An entry as it is kept; a body that is no JSON any more reads as empty, which its hash then shows."""
    try:
        body = json.loads(row["body"])
    except ValueError:
        body = {}
    return Entry(
        row["book"],
        row["number"],
        row["kind"],
        row["version"],
        row["at"],
        row["who"],
        body if isinstance(body, dict) else {},
        row["previous"],
        row["hash"],
    )


def open_store(folder: Path, *, clock: Clock, who: str, patience: float = PATIENCE) -> FolderStore:
    """Open the store of a folder, made where there is none.

    Parameters
    ----------
    who
        Who works; written into every logbook entry.
    patience
        How long to wait for another process that writes, s.

    Raises
    ------
    StoreError
        When it cannot be used, with what to do.
    """
    return FolderStore(Path(folder), clock=clock, who=who, patience=patience)
