"""The last entry of every book, kept a second time beside the store.

A chain of hashes shows any change inside a book, but not that its last entries were cut off. The file
``heads`` says how far each book and the ledger went. It is written after each commit, under the lock of the
store's file: a process killed between the two leaves it one transaction behind, which is no fault; a book
shorter than its head is one, and its line then stays as it is, so that later entries do not hide it.
Someone who rewrites the books, their hashes and this file together is not found by this machine alone: a
hand-over kept by somebody else, or a sign-off printed with its hash, is what shows that.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterable, Mapping
from pathlib import Path

from asflown.adapters.store import ledger
from asflown.adapters.to_disk import flush_folder, write_flushed
from asflown.core.logbook import FIRST

FILE = "heads"
#: Stands for the ledger where a book's name stands; no aircraft can have this name.
LEDGER = "=ledger"


def advance(folder: Path, connection: sqlite3.Connection, books: Iterable[str]) -> None:
    """Bring the file up to the last commit. The caller holds the write lock of the store's file."""
    heads = read_heads(folder)
    for book in {*heads, *books} - {LEDGER}:
        if book in heads and not _has(connection, book, *heads[book]):
            continue  # cut off or rewritten: the line stays, so that verify goes on finding it
        row = connection.execute(
            "SELECT number, hash FROM entry WHERE book = ? ORDER BY number DESC LIMIT 1", (book,)
        ).fetchone()
        if row is not None:
            heads[book] = (int(row[0]), str(row[1]))
    said, last = heads.get(LEDGER), ledger.last(connection)
    if last is not None and (said is None or ledger.holds(connection, *said)):
        heads[LEDGER] = last
    write_heads(folder, heads)


def begin(folder: Path) -> None:
    """Say that the ledger begins, before it does; from then on a file that says nothing is a fault."""
    heads = read_heads(folder)
    if LEDGER not in heads:
        write_heads(folder, {**heads, LEDGER: (0, FIRST)})


def _has(connection: sqlite3.Connection, book: str, number: int, hash: str) -> bool:
    row = connection.execute(
        "SELECT hash FROM entry WHERE book = ? AND number = ?", (book, number)
    ).fetchone()
    return row is not None and row[0] == hash


def write_heads(folder: Path, heads: Mapping[str, tuple[int, str]]) -> None:
    """Write number and hash of the last entry of each book, whole or not at all."""
    text = "".join(f"{book} {number} {hash}\n" for book, (number, hash) in sorted(heads.items()))
    partial = folder / f".{FILE}.{os.getpid()}-{threading.get_ident()}.part"
    partial.unlink(missing_ok=True)  # of a process that was killed
    write_flushed(partial, text.encode())
    os.replace(partial, folder / FILE)
    flush_folder(folder)


def read_heads(folder: Path) -> dict[str, tuple[int, str]]:
    """What the file says, the ledger's line under :data:`LEDGER`; empty where it cannot be read."""
    try:
        text = (folder / FILE).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return {}
    made: dict[str, tuple[int, str]] = {}
    for line in text.split("\n"):
        parts = line.rsplit(" ", 2)
        if len(parts) == 3 and parts[1].isdecimal() and parts[1].isascii():
            made[parts[0]] = (int(parts[1]), parts[2])
    return made
