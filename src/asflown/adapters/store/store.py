"""The store: documents, logbooks and originals, written together or not at all."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from asflown.adapters.store.connect import FILE, connect, in_words
from asflown.adapters.store.heads import read_heads, write_heads
from asflown.adapters.store.originals import FOLDER, read_original, write_original
from asflown.app.needs import Clock, Document
from asflown.core.logbook import FIRST, Entry, chained
from asflown.core.record import Original
from asflown.errors import Stale


class FolderTransaction:
    """Writes of one use case; see :class:`asflown.app.needs.Transaction`."""

    def __init__(self, store: FolderStore) -> None:
        self._store = store
        self._connection = store.connection
        self.heads: dict[str, tuple[int, str]] = {}

    def keep(self, data: bytes, *, name: str, kind: str) -> Original:
        """Keep the bytes of an original; the same bytes twice are kept once."""
        sha256 = hashlib.sha256(data).hexdigest()
        row = self._connection.execute("SELECT * FROM original WHERE sha256 = ?", (sha256,)).fetchone()
        if row is not None:
            return Original(sha256, len(data), name, kind)
        at = self._store.clock.now()
        sha256, path = write_original(self._store.folder, data, name, at)
        self._connection.execute(
            "INSERT INTO original VALUES (?, ?, ?, ?, ?, ?)", (sha256, len(data), name, kind, path, at)
        )
        return Original(sha256, len(data), name, kind)

    def put(self, kind: str, id: str, body: bytes, *, expect: int | None = None) -> Document:
        """Append a revision.

        Raises
        ------
        Stale
            When the latest revision is not the expected one: somebody else was faster.
        """
        row = self._connection.execute(
            "SELECT MAX(revision) FROM document WHERE kind = ? AND id = ?", (kind, id)
        ).fetchone()
        latest = int(row[0] or 0)
        if expect is not None and latest != expect:
            what = f"{kind} {id} is at revision {latest}, not {expect}: somebody else changed it meanwhile"
            raise Stale(what, next_step="look at it again and repeat what you did")
        document = Document(
            kind, id, latest + 1, body, hashlib.sha256(body).hexdigest(), self._store.clock.now()
        )
        self._connection.execute(
            "INSERT INTO document VALUES (?, ?, ?, ?, ?, ?)",
            (kind, id, document.revision, body, document.sha256, document.at),
        )
        return document

    def log(self, book: str, kind: str, body: Mapping[str, Any]) -> Entry:
        """Append an entry to a logbook."""
        row = self._connection.execute(
            "SELECT number, hash FROM entry WHERE book = ? ORDER BY number DESC LIMIT 1", (book,)
        ).fetchone()
        number, previous = (int(row["number"]) + 1, str(row["hash"])) if row else (1, FIRST)
        text = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        entry = chained(
            book=book,
            number=number,
            kind=kind,
            at=self._store.clock.now(),
            who=self._store.who,
            body=json.loads(text),
            previous=previous,
        )
        return self.append(entry)

    def append(self, entry: Entry) -> Entry:
        """Append an entry as it is: one that was handed over keeps its own time, writer and hash."""
        text = json.dumps(entry.body, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        self._connection.execute(
            "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                entry.book,
                entry.number,
                entry.kind,
                entry.version,
                entry.at,
                entry.who,
                text,
                entry.previous,
                entry.hash,
            ),
        )
        self.heads[entry.book] = (entry.number, entry.hash)
        return entry

    def next_sheet(self, book: str) -> int:
        """Take the next sheet number of a book."""
        self._connection.execute(
            "INSERT INTO sheet VALUES (?, 1) ON CONFLICT (book) DO UPDATE SET number = number + 1", (book,)
        )
        row = self._connection.execute("SELECT number FROM sheet WHERE book = ?", (book,)).fetchone()
        return int(row[0])


class FolderStore:
    """A store in a folder; satisfies :class:`asflown.app.needs.Store`."""

    def __init__(self, folder: Path, *, clock: Clock, who: str) -> None:
        self.folder, self.clock, self.who = folder, clock, who
        self.path = folder / FILE
        self.connection = connect(folder)

    def close(self) -> None:
        """Close the file."""
        self.connection.close()

    @contextmanager
    def transaction(self) -> Iterator[FolderTransaction]:
        """One use case: committed whole at the end of the block, rolled back when it raises."""
        with in_words(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
        work = FolderTransaction(self)
        try:
            with in_words(self.path):
                yield work
                self.connection.execute("COMMIT")
        except BaseException:
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")
            raise
        if work.heads:
            with in_words(self.path):
                write_heads(self.folder, self._last_entries())

    def _last_entries(self) -> dict[str, tuple[int, str]]:
        rows = self._all("SELECT book, MAX(number) AS number, hash FROM entry GROUP BY book")
        return {row["book"]: (int(row["number"]), row["hash"]) for row in rows}

    def _all(self, query: str, values: tuple[object, ...] = ()) -> list[sqlite3.Row]:
        with in_words(self.path):
            return self.connection.execute(query, values).fetchall()

    def original(self, sha256: str) -> bytes:
        """The bytes of an original; raises `Damaged` when they are gone or changed."""
        rows = self._all("SELECT path FROM original WHERE sha256 = ?", (sha256,))
        if not rows:
            from asflown.errors import Damaged

            raise Damaged(f"no original with SHA-256 {sha256[:12]}… is kept", where=str(self.path))
        return read_original(self.folder, rows[0]["path"], sha256)

    def document(self, kind: str, id: str) -> Document | None:
        """The latest revision, ``None`` where there is none."""
        rows = self._all(
            "SELECT * FROM document WHERE kind = ? AND id = ? ORDER BY revision DESC LIMIT 1", (kind, id)
        )
        return _document(rows[0]) if rows else None

    def documents(self, kind: str) -> tuple[Document, ...]:
        """The latest revision of each, by id."""
        rows = self._all(
            "SELECT d.* FROM document d JOIN (SELECT id, MAX(revision) AS top FROM document WHERE kind = ?"
            " GROUP BY id) l ON d.id = l.id AND d.revision = l.top WHERE d.kind = ? ORDER BY d.id",
            (kind, kind),
        )
        return tuple(map(_document, rows))

    def revisions(self, kind: str, id: str) -> tuple[Document, ...]:
        """Every revision, oldest first."""
        rows = self._all("SELECT * FROM document WHERE kind = ? AND id = ? ORDER BY revision", (kind, id))
        return tuple(map(_document, rows))

    def every_revision(self) -> Iterator[Document]:
        """Every revision of every document, one at a time."""
        with in_words(self.path):
            for row in self.connection.execute("SELECT * FROM document ORDER BY kind, id, revision"):
                yield _document(row)

    def book(self, book: str) -> tuple[Entry, ...]:
        """A logbook, oldest entry first."""
        rows = self._all("SELECT * FROM entry WHERE book = ? ORDER BY number", (book,))
        return tuple(map(_entry, rows))

    def books(self) -> tuple[str, ...]:
        """Names of all logbooks."""
        return tuple(row["book"] for row in self._all("SELECT DISTINCT book FROM entry ORDER BY book"))

    def originals(self) -> tuple[Original, ...]:
        """Every original kept, in the order kept."""
        rows = self._all("SELECT * FROM original ORDER BY at, sha256")
        return tuple(Original(row["sha256"], row["size"], row["name"], row["kind"]) for row in rows)

    def heads(self) -> Mapping[str, tuple[int, str]]:
        """Last entry of each book as the second place says."""
        return read_heads(self.folder)

    def loose_files(self) -> tuple[str, ...]:
        """Files among the originals that nothing names: left by a process that was killed."""
        named = {row["path"] for row in self._all("SELECT path FROM original")}
        root = self.folder / FOLDER
        found = (path.relative_to(self.folder).as_posix() for path in root.rglob("*") if path.is_file())
        return tuple(sorted(path for path in found if path not in named))

    def memory(self, name: str) -> str | None:
        """A convenience value, not part of any logbook."""
        rows = self._all("SELECT value FROM memory WHERE name = ?", (name,))
        return str(rows[0]["value"]) if rows else None

    def remember(self, name: str, value: str | None) -> None:
        """Set or forget a convenience value."""
        if self.memory(name) == value:
            return
        with in_words(self.path):
            if value is None:
                self.connection.execute("DELETE FROM memory WHERE name = ?", (name,))
            else:
                self.connection.execute("INSERT OR REPLACE INTO memory VALUES (?, ?)", (name, value))


def _document(row: sqlite3.Row) -> Document:
    return Document(row["kind"], row["id"], row["revision"], row["body"], row["sha256"], row["at"])


def _entry(row: sqlite3.Row) -> Entry:
    body = json.loads(row["body"])
    return Entry(
        row["book"],
        row["number"],
        row["kind"],
        row["version"],
        row["at"],
        row["who"],
        body,
        row["previous"],
        row["hash"],
    )


def open_store(folder: Path, *, clock: Clock, who: str) -> FolderStore:
    """Open the store of a folder, made where there is none.

    Raises
    ------
    StoreError
        When it cannot be used, with what to do.
    """
    return FolderStore(Path(folder), clock=clock, who=who)
