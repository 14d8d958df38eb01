"""Numbered upgrades of the store's layout; each copies the file before it changes anything."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

from asflown.adapters.store import ledger
from asflown.adapters.store.heads import begin
from asflown.errors import StoreError

#: Written into the SQLite header, so that the file of another program is not taken for a store: "asfl".
APPLICATION = 0x6173666C

_FIRST = """
CREATE TABLE original (
    sha256 TEXT PRIMARY KEY, size INTEGER NOT NULL, name TEXT NOT NULL, kind TEXT NOT NULL,
    path TEXT NOT NULL, at TEXT NOT NULL
) STRICT;
CREATE TABLE document (
    kind TEXT NOT NULL, id TEXT NOT NULL, revision INTEGER NOT NULL, body BLOB NOT NULL,
    sha256 TEXT NOT NULL, at TEXT NOT NULL, PRIMARY KEY (kind, id, revision)
) STRICT;
CREATE TABLE entry (
    book TEXT NOT NULL, number INTEGER NOT NULL, kind TEXT NOT NULL, version INTEGER NOT NULL,
    at TEXT NOT NULL, who TEXT NOT NULL, body TEXT NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL,
    PRIMARY KEY (book, number)
) STRICT;
CREATE TABLE sheet (book TEXT PRIMARY KEY, number INTEGER NOT NULL) STRICT;
CREATE TABLE memory (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TRIGGER original_stays BEFORE UPDATE ON original
    BEGIN SELECT RAISE(ABORT, 'originals never change'); END;
CREATE TRIGGER original_kept BEFORE DELETE ON original
    BEGIN SELECT RAISE(ABORT, 'originals never change'); END;
CREATE TRIGGER document_stays BEFORE UPDATE ON document
    BEGIN SELECT RAISE(ABORT, 'revisions never change'); END;
CREATE TRIGGER document_kept BEFORE DELETE ON document
    BEGIN SELECT RAISE(ABORT, 'revisions never change'); END;
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
    BEGIN SELECT RAISE(ABORT, 'the logbook never changes'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry
    BEGIN SELECT RAISE(ABORT, 'the logbook never changes'); END;
"""

_LEDGER = """
CREATE TABLE ledger (
    number INTEGER PRIMARY KEY, what TEXT NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL
) STRICT;
CREATE TRIGGER ledger_stays BEFORE UPDATE ON ledger
    BEGIN SELECT RAISE(ABORT, 'the ledger never changes'); END;
CREATE TRIGGER ledger_kept BEFORE DELETE ON ledger
    BEGIN SELECT RAISE(ABORT, 'the ledger never changes'); END;
"""


def _first(connection: sqlite3.Connection) -> None:
    _run(connection, _FIRST)


def _add_ledger(connection: sqlite3.Connection) -> None:
    """One chain over everything; what is kept already is entered in the order of its times."""
    _run(connection, _LEDGER)
    for what, _ in list(ledger.rows(connection)):
        ledger.add(connection, what)
    connection.execute(f"PRAGMA application_id = {APPLICATION}")


#: Upgrade n brings a store from layout n to n + 1.
UPGRADES: tuple[Callable[[sqlite3.Connection], None], ...] = (_first, _add_ledger)
LATEST = len(UPGRADES)


def check_layout(connection: sqlite3.Connection, path: Path) -> int:
    """The layout of the file, 0 where it is new. Nothing is changed.

    Raises
    ------
    StoreError
        When the file is another program's, or was made by a newer asflown.
    """
    version, tables = _seen(connection)
    is_ours = {"original", "document", "entry"} <= tables if version else not tables
    if not is_ours:
        raise StoreError(
            "is a file of another program, no asflown store",
            where=str(path),
            next_step="choose another folder with --store FOLDER or ASFLOWN_STORE",
        )
    if version > LATEST:
        raise StoreError(
            f"has layout {version}; this asflown knows up to {LATEST}",
            where=str(path),
            next_step="use the newer asflown this store was written with",
        )
    return version


def _seen(connection: sqlite3.Connection) -> tuple[int, set[str]]:
    """Layout number and table names of one moment, though another process is just making the store."""
    while True:
        version = version_of(connection)
        rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        if version_of(connection) == version:
            return version, {row[0] for row in rows}


def upgrade(connection: sqlite3.Connection, path: Path) -> None:
    """Bring a store to the latest layout; one transaction an upgrade, the file copied before each."""
    made_new = version_of(connection) == 0
    while (version := version_of(connection)) < LATEST:
        if version > 0 and not made_new:
            _copy_first(connection, path, version)
        connection.execute("BEGIN IMMEDIATE")
        try:
            if version_of(connection) == version:  # another process may have done it meanwhile
                UPGRADES[version](connection)
                begin(path.parent)  # before the commit, and under its lock
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def version_of(connection: sqlite3.Connection) -> int:
    """The layout's number in the file."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _run(connection: sqlite3.Connection, script: str) -> None:
    """Run statements inside the open transaction (``executescript`` would end it)."""
    part = ""
    for line in script.splitlines():
        part += line + "\n"
        if part.strip() and sqlite3.complete_statement(part):
            connection.execute(part)
            part = ""


def _copy_first(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """Keep the store as it was beside it, e.g. ``asflown.db.before-2``."""
    target = path.with_name(f"{path.name}.before-{version + 1}")
    if target.exists():  # made by a process that copied and was killed, or that is at it now
        return
    partial = target.with_name(f"{target.name}.{os.getpid()}-{threading.get_ident()}.part")
    partial.unlink(missing_ok=True)
    copy = sqlite3.connect(partial)
    try:
        connection.backup(copy)
    finally:
        copy.close()
    os.replace(partial, target)
