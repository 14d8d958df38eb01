"""Numbered upgrades of the store's layout; each copies the file before it changes anything."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from asflown.errors import StoreError

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
CREATE TRIGGER original_stays BEFORE UPDATE ON original BEGIN SELECT RAISE(ABORT, 'originals never change'); END;
CREATE TRIGGER original_kept BEFORE DELETE ON original BEGIN SELECT RAISE(ABORT, 'originals never change'); END;
CREATE TRIGGER document_stays BEFORE UPDATE ON document BEGIN SELECT RAISE(ABORT, 'revisions never change'); END;
CREATE TRIGGER document_kept BEFORE DELETE ON document BEGIN SELECT RAISE(ABORT, 'revisions never change'); END;
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'the logbook never changes'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'the logbook never changes'); END;
"""

#: Upgrade n brings a store from layout n to n + 1.
UPGRADES: tuple[str, ...] = (_FIRST,)
LATEST = len(UPGRADES)


def upgrade(connection: sqlite3.Connection, path: Path) -> None:
    """Bring a store to the latest layout; one transaction an upgrade, the file copied before each.

    Raises
    ------
    StoreError
        When the store was made by a newer asflown.
    """
    while (version := _version(connection)) < LATEST:
        if version > 0:
            _copy_first(connection, path, version)
        connection.execute("BEGIN IMMEDIATE")
        try:
            if _version(connection) == version:  # another process may have done it meanwhile
                for statement in _statements(UPGRADES[version]):
                    connection.execute(statement)
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
    if version > LATEST:
        raise StoreError(
            f"has layout {version}; this asflown knows up to {LATEST}",
            where=str(path),
            next_step="use the newer asflown this store was written with",
        )


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _statements(script: str) -> list[str]:
    made, part = [], ""
    for line in script.splitlines():
        part += line + "\n"
        if part.strip() and sqlite3.complete_statement(part):
            made.append(part)
            part = ""
    return made


def _copy_first(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """Keep the store as it was beside it, e.g. ``asflown.db.before-2``."""
    target = path.with_name(f"{path.name}.before-{version + 1}")
    partial = target.with_name(target.name + ".part")
    partial.unlink(missing_ok=True)
    copy = sqlite3.connect(partial)
    try:
        connection.backup(copy)
    finally:
        copy.close()
    os.replace(partial, target)
