"""Opening the store's SQLite file, and what its errors mean to a person."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from asflown.adapters.store.migrations import upgrade
from asflown.errors import StoreError

FILE = "asflown.db"
#: How long a writer waits for another one, s.
PATIENCE = 20.0


def connect(folder: Path) -> sqlite3.Connection:
    """Open the store of a folder, made and brought to the latest layout where needed.

    Raises
    ------
    StoreError
        When the folder or the file cannot be used, with what to do.
    """
    path = folder / FILE
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"the folder cannot be made: {error.strerror}",
            where=str(folder),
            next_step="choose another place with --store FOLDER or ASFLOWN_STORE",
        ) from None
    with in_words(path):
        connection = sqlite3.connect(path, timeout=PATIENCE, isolation_level=None)
        connection.row_factory = sqlite3.Row
        try:
            _prepare(connection)
            upgrade(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def _prepare(connection: sqlite3.Connection) -> None:
    mode = connection.execute("PRAGMA journal_mode").fetchone()[0]
    if mode != "wal":
        connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")


_SAYS = (
    ("readonly", "is read-only", "give yourself the right to write there, or choose another --store"),
    ("read-only", "is read-only", "give yourself the right to write there, or choose another --store"),
    ("unable to open", "cannot be opened", "check the folder's rights, or choose another --store"),
    ("full", "the disk is full; nothing was written", "make room and do it again"),
    ("locked", "another asflown has been writing for a long time", "wait for it to end and do it again"),
    ("not a database", "is no asflown store", "choose another --store, or put the store's own file back"),
    ("malformed", "is damaged", "run asflown verify on a copy; put a good copy back"),
    ("disk i/o", "the disk reported an error; nothing was written", "check the disk and do it again"),
)


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn SQLite's and the file system's errors into a :class:`StoreError` with a next step."""
    try:
        yield
    except sqlite3.Error as error:
        raise _said(str(error), path) from None
    except OSError as error:
        raise _said(error.strerror or str(error), Path(error.filename or path)) from None


def _said(message: str, path: Path) -> StoreError:
    low = message.casefold()
    for word, what, step in _SAYS:
        if word in low:
            return StoreError(what, where=str(path), next_step=step)
    if "no space" in low:
        what, step = "the disk is full; nothing was written", "make room and do it again"
        return StoreError(what, where=str(path), next_step=step)
    if "permission" in low:
        return StoreError("may not be used by you", where=str(path), next_step="check the folder's rights")
    return StoreError(f"cannot be used: {message}", where=str(path), next_step="choose another --store")
