"""What the tests of the store share."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from asflown.adapters.store import FolderStore, open_store


class StandingClock:
    """A clock that stands still."""

    def now(self) -> str:
        return "2026-03-07T09:12:44+01:00"


def opened(folder: Path, who: str = "Ida", patience: float = 20.0) -> FolderStore:
    return open_store(folder, clock=StandingClock(), who=who, patience=patience)


def work_once(store: FolderStore, number: int) -> int:
    """One whole use case: an original, a document's next revision, a sheet, an entry. Gives the entry's number."""
    with store.transaction() as tx:
        original = tx.keep(f"listing {number}\n".encode() * 20, name=f"found {number}.txt", kind="listing")
        sheet = tx.next_sheet("plover")
        document = tx.put("note", f"plover-{sheet:03d}", original.sha256.encode(), expect=0)
        tx.put("count", "plover", f"sheet {sheet}".encode())
        body = {"id": document.id, "sha256": document.sha256, "original": original.sha256, "number": number}
        return tx.log("plover", "comparison", body).number


@contextmanager
def by_hand(folder: Path) -> Iterator[sqlite3.Connection]:
    """The file without its guards, as a person with an SQLite tool has it."""
    connection = sqlite3.connect(folder / "asflown.db")
    try:
        triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            connection.execute(f'DROP TRIGGER "{name}"')
        yield connection
        connection.commit()
    finally:
        connection.close()


@contextmanager
def mounted(folder: Path, options: str) -> Iterator[bool]:
    """A small file system in memory at a folder; ``False`` where this user may not mount one."""
    folder.mkdir(parents=True, exist_ok=True)
    done = os.system(f"mount -t tmpfs -o {options} tmpfs '{folder}' 2>/dev/null") == 0
    try:
        yield done
    finally:
        if done:
            os.system(f"umount -l '{folder}'")  # also where a failed test left a file open
