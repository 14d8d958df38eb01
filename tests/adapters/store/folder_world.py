"""A store in a folder, with a clock that goes on by itself."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from asflown.adapters.store import FolderStore, open_store


class StepClock:
    """One second later each time it is looked at, from 9 o'clock."""

    def __init__(self) -> None:
        self.seconds = 9 * 3600

    def now(self) -> str:
        self.seconds += 1
        minutes, seconds = divmod(self.seconds, 60)
        return f"2026-03-07T{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}+01:00"


def opened(folder: Path, who: str = "Ida", patience: float = 20.0) -> FolderStore:
    return open_store(folder, clock=StepClock(), who=who, patience=patience)


def asked(store: FolderStore, query: str) -> list[sqlite3.Row]:
    """What the store's own connection says, which has its own settings."""
    return store._connection.execute(query).fetchall()


def filled(folder: Path, entries: int = 3, book: str = "wren") -> FolderStore:
    """Each entry with a record document and an original of its own."""
    store = opened(folder)
    for number in range(entries):
        with store.transaction() as tx:
            tx.keep(b"listing %d\n" % number, name=f"{number}.txt", kind="listing")
            tx.put("note", f"{book}-{number}", b'{"number":%d}' % number, expect=0)
            tx.log(book, "comparison", {"number": number})
    return store


def tampered(store: FolderStore, *statements: str) -> None:
    """What someone with the file and without scruples can do: the triggers dropped first."""
    connection = sqlite3.connect(store.path)
    names = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for (name,) in names:
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        assert connection.execute(statement).rowcount > 0, statement
    connection.commit()
    connection.close()
