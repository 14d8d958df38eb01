"""The writes of one use case: all of them are kept, or none."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from asflown.adapters.store import ledger
from asflown.adapters.store.connect import FILE, in_words
from asflown.adapters.store.originals import is_whole, put_file, write_original
from asflown.app.needs import Clock, Document
from asflown.core.logbook import FIRST, Entry, chained
from asflown.core.record import Original
from asflown.errors import InputError, Stale, StoreError


class FolderTransaction:
    """Writes of one use case; see :class:`asflown.app.needs.Transaction`."""

    def __init__(self, folder: Path, connection: sqlite3.Connection, clock: Clock, who: str) -> None:
        self._folder, self._connection = folder, connection
        self._path = folder / FILE
        self._clock, self._who = clock, who
        #: Books that got an entry.
        self.books: set[str] = set()
        self.has_written = False

    def keep(self, data: bytes, *, name: str, kind: str) -> Original:
        """Keep the bytes of an original; the same bytes twice are kept once.

        Where the file of bytes kept earlier is gone or changed, these put it right again.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        name = readable(name)
        with in_words(self._path):
            row = self._one("SELECT path FROM original WHERE sha256 = ?", sha256)
            if row is None:
                at = self._clock.now()
                _, path = write_original(self._folder, data, name, at)
                self._write(
                    "INSERT INTO original VALUES (?, ?, ?, ?, ?, ?)", sha256, len(data), name, kind, path, at
                )
                ledger.add(self._connection, ledger.line_of_original(sha256, len(data), kind, at, path, name))
            elif not is_whole(self._folder, row["path"], sha256):
                put_file(self._folder, row["path"], data)
        return Original(sha256, len(data), name, kind)

    def put(self, kind: str, id: str, body: bytes, *, expect: int | None = None) -> Document:
        """Append a revision.

        Raises
        ------
        Stale
            When the latest revision is not the expected one: somebody else was faster.
        """
        with in_words(self._path):
            row = self._one("SELECT MAX(revision) FROM document WHERE kind = ? AND id = ?", kind, id)
            latest = int(row[0] or 0) if row else 0
            if expect is not None and latest != expect:
                raise _moved(kind, id, latest, expect)
            sha256, at = hashlib.sha256(body).hexdigest(), self._clock.now()
            made = Document(kind, id, latest + 1, body, sha256, at)
            self._write(
                "INSERT INTO document VALUES (?, ?, ?, ?, ?, ?)", kind, id, latest + 1, body, sha256, at
            )
            ledger.add(self._connection, ledger.line_of_document(kind, id, latest + 1, sha256, at))
        return made

    def log(self, book: str, kind: str, body: Mapping[str, Any]) -> Entry:
        """Append an entry to a logbook."""
        with in_words(self._path):
            row = self._one(
                "SELECT number, hash FROM entry WHERE book = ? ORDER BY number DESC LIMIT 1", book
            )
        number, previous = (int(row["number"]) + 1, str(row["hash"])) if row else (1, FIRST)
        return self.append(
            chained(
                book=book,
                number=number,
                kind=kind,
                at=self._clock.now(),
                who=self._who,
                body=json.loads(_text(body)),
                previous=previous,
            )
        )

    def append(self, entry: Entry) -> Entry:
        """Append an entry as it is: one that was handed over keeps its own time, writer and hash.

        Raises
        ------
        Stale
            When it does not follow from the last entry of its book.
        """
        with in_words(self._path):
            row = self._one(
                "SELECT number, hash FROM entry WHERE book = ? ORDER BY number DESC LIMIT 1", entry.book
            )
            number, previous = (int(row["number"]) + 1, str(row["hash"])) if row else (1, FIRST)
            if (entry.number, entry.previous) != (number, previous):
                what = f"entry {entry.number} does not follow from entry {number - 1}"
                raise Stale(
                    what,
                    where=f"logbook {entry.book}",
                    next_step="look at the logbook again and repeat what you did",
                )
            self._write(
                "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                entry.book,
                entry.number,
                entry.kind,
                entry.version,
                entry.at,
                entry.who,
                _text(entry.body),
                entry.previous,
                entry.hash,
            )
            ledger.add(self._connection, ledger.line_of_entry(entry.book, entry.number, entry.hash))
        self.books.add(entry.book)
        return entry

    def next_sheet(self, book: str) -> int:
        """Take the next sheet number of a book."""
        with in_words(self._path):
            self._write(
                "INSERT INTO sheet VALUES (?, 1) ON CONFLICT (book) DO UPDATE SET number = number + 1", book
            )
            row = self._one("SELECT number FROM sheet WHERE book = ?", book)
        return int(row[0]) if row else 1

    def _one(self, query: str, *values: object) -> sqlite3.Row | None:
        self._check_open()
        row: sqlite3.Row | None = self._connection.execute(query, values).fetchone()
        return row

    def _write(self, statement: str, *values: object) -> None:
        self._check_open()
        self._connection.execute(statement, values)
        self.has_written = True

    def _check_open(self) -> None:
        """SQLite ends a transaction by itself when the disk is full; nothing more may be written then."""
        if not self._connection.in_transaction:
            raise StoreError(
                "the transaction has ended; what was being done was not kept",
                where=str(self._path),
                next_step="do it again",
            )


def _moved(kind: str, id: str, latest: int, expect: int) -> Stale:
    if expect == 0:
        what = f"{kind} {id} is there already, at revision {latest}"
    else:
        what = f"{kind} {id} is at revision {latest}, not {expect}: it was changed meanwhile"
    return Stale(what, next_step="look at it again and repeat what you did")


def _text(body: Mapping[str, Any]) -> str:
    """The body as JSON text; signs no text can hold are written as escapes."""
    try:
        text = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    except ValueError as error:
        raise InputError(
            f"a logbook entry cannot hold this: {error}", next_step="give numbers that are numbers"
        ) from None
    if text == readable(text):
        return text
    return json.dumps(body, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)


def readable(text: str) -> str:
    """The text with signs that are no Unicode (from odd file names) replaced by ``?``."""
    return text.encode("utf-8", "replace").decode("utf-8")
