"""Opening the store's SQLite file, and what its errors mean to a person."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from asflown.adapters.store.migrations import LATEST, check_layout, upgrade
from asflown.errors import StoreError

FILE = "asflown.db"
#: How long a writer waits for another one, s.
PATIENCE = 20.0


def connect(folder: Path, *, patience: float = PATIENCE) -> sqlite3.Connection:
    """Open the store of a folder, made and brought to the latest layout where needed.

    Parameters
    ----------
    patience
        How long to wait for another process that writes, s.

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
            f"the folder cannot be made: {_lower(error.strerror or str(error))}",
            where=str(folder),
            next_step="choose another place with --store FOLDER or ASFLOWN_STORE",
        ) from None
    with in_words(path):
        # a page hands its store over to work that goes on in a thread of its own: one thread at a time has it
        connection = sqlite3.connect(path, timeout=patience, isolation_level=None, check_same_thread=False)
        connection.row_factory = sqlite3.Row
        try:
            version = check_layout(connection, path)
            _prepare(connection, patience)
            if version < LATEST:
                upgrade(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def _prepare(connection: sqlite3.Connection, patience: float) -> None:
    """Write-ahead log, every commit brought to the disk, foreign keys held, no code from the file trusted."""
    end = time.monotonic() + patience
    while connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            # two processes that make a new store at once: this change does not wait by itself
            if "locked" not in str(error) or time.monotonic() > end:
                raise
            time.sleep(0.01)
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")


_SAYS = (
    (
        ("readonly", "read-only"),
        "is read-only",
        "give yourself the right to write there, or choose another --store",
    ),
    (("unable to open",), "cannot be opened", "check the folder's rights, or choose another --store"),
    (
        ("full", "no space", "quota"),
        "the disk is full; what was being done was not kept",
        "make room and do it again",
    ),
    (("locked",), "another asflown has been writing for a long time", "wait for it to end and do it again"),
    (
        ("not a database",),
        "is no asflown store",
        "choose another --store, or put the store's own file back",
    ),
    (
        ("malformed", "corrupt"),
        "is damaged",
        "put a good copy back, or take the last hand-over: asflown receive PATH --store NEWFOLDER",
    ),
    (
        ("disk i/o",),
        "the disk reported an error; what was being done was not kept",
        "check the disk and do it again",
    ),
    (("permission", "not permitted"), "may not be used by you", "check the folder's rights"),
)


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn SQLite's and the file system's errors into a :class:`StoreError` with a next step."""
    try:
        yield
    except sqlite3.Error as error:
        raise _said(str(error), path) from error
    except OSError as error:
        raise _said(error.strerror or str(error), Path(error.filename or path)) from error


def _said(message: str, path: Path) -> StoreError:
    low = message.casefold()
    for words, what, step in _SAYS:
        if any(word in low for word in words):
            return StoreError(what, where=str(path), next_step=step)
    return StoreError(
        f"cannot be used: {_lower(message)}", where=str(path), next_step="choose another --store"
    )


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
