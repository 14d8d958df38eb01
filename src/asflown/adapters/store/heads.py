"""The last entry of every book, kept a second time beside the store.

A chain of hashes shows any change inside a book, but not that its last entries were cut off. The file
``heads`` says how far each book went. It is written after each commit: a process killed between the two
leaves it one entry behind, which is no fault; a book shorter than its head is one. Someone who rewrites
the book, its hashes and this file together is not found by this machine alone: a hand-over kept by
somebody else, or a sign-off printed with its hash, is what shows that.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from asflown.adapters.store.originals import flush_folder

FILE = "heads"


def write_heads(folder: Path, heads: Mapping[str, tuple[int, str]]) -> None:
    """Write number and hash of the last entry of each book, whole or not at all."""
    text = "".join(f"{book} {number} {hash}\n" for book, (number, hash) in sorted(heads.items()))
    partial = folder / f".{FILE}.{os.getpid()}.part"
    with open(partial, "w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    os.replace(partial, folder / FILE)
    flush_folder(folder)


def read_heads(folder: Path) -> dict[str, tuple[int, str]]:
    """What the file says; empty where there is none or a line is not readable."""
    try:
        text = (folder / FILE).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return {}
    made: dict[str, tuple[int, str]] = {}
    for line in text.splitlines():
        parts = line.split(" ")
        if len(parts) == 3 and parts[1].isdecimal():
            made[parts[0]] = (int(parts[1]), parts[2])
    return made
