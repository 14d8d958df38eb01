"""A store in memory with the same promises as the real one, for fast tests of the jobs."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from asflown.app.needs import Document
from asflown.core.logbook import FIRST, Entry, chained
from asflown.core.record import Original
from asflown.errors import Damaged, Fault, Stale


class TickingClock:
    """A clock that goes on one second each time it is looked at."""

    def __init__(self) -> None:
        self.seconds = 0

    def now(self) -> str:
        self.seconds += 1
        minutes, seconds = divmod(self.seconds, 60)
        return f"2026-03-07T{9 + minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}+01:00"


class MemoryStore:
    """Everything in dictionaries; a block that raises leaves no trace."""

    def __init__(self, clock: TickingClock, who: str = "Ida") -> None:
        self.clock, self.who = clock, who
        self.kept: dict[str, tuple[Original, bytes]] = {}
        self.docs: dict[tuple[str, str], list[Document]] = {}
        self.logs: dict[str, list[Entry]] = {}
        self.sheets: dict[str, int] = {}
        self.memories: dict[str, str] = {}

    @contextmanager
    def transaction(self) -> Iterator[MemoryStore]:
        before = (
            dict(self.kept),
            {name: list(rows) for name, rows in self.docs.items()},
            {name: list(rows) for name, rows in self.logs.items()},
            dict(self.sheets),
        )
        try:
            yield self
        except BaseException:
            self.kept, self.docs, self.logs, self.sheets = before
            raise

    def keep(self, data: bytes, *, name: str, kind: str) -> Original:
        sha256 = hashlib.sha256(data).hexdigest()
        if sha256 not in self.kept:
            self.kept[sha256] = (Original(sha256, len(data), name, kind), data)
        return Original(sha256, len(data), name, kind)

    def put(self, kind: str, id: str, body: bytes, *, expect: int | None = None) -> Document:
        rows = self.docs.setdefault((kind, id), [])
        if expect is not None and expect != len(rows):
            raise Stale(f"{kind} {id} is at revision {len(rows)}, not {expect}")
        made = Document(kind, id, len(rows) + 1, body, hashlib.sha256(body).hexdigest(), self.clock.now())
        rows.append(made)
        return made

    def log(self, book: str, kind: str, body: Mapping[str, Any]) -> Entry:
        rows = self.logs.setdefault(book, [])
        previous = rows[-1].hash if rows else FIRST
        entry = chained(
            book=book,
            number=len(rows) + 1,
            kind=kind,
            at=self.clock.now(),
            who=self.who,
            body=dict(body),
            previous=previous,
        )
        rows.append(entry)
        return entry

    def append(self, entry: Entry) -> Entry:
        self.logs.setdefault(entry.book, []).append(entry)
        return entry

    def next_sheet(self, book: str) -> int:
        self.sheets[book] = self.sheets.get(book, 0) + 1
        return self.sheets[book]

    def original(self, sha256: str) -> bytes:
        if sha256 not in self.kept:
            raise Damaged(f"original {sha256[:12]} is gone")
        data = self.kept[sha256][1]
        if hashlib.sha256(data).hexdigest() != sha256:
            raise Damaged(f"original {sha256[:12]} is changed")
        return data

    def document(self, kind: str, id: str) -> Document | None:
        rows = self.docs.get((kind, id))
        return rows[-1] if rows else None

    def documents(self, kind: str) -> tuple[Document, ...]:
        return tuple(rows[-1] for (k, _), rows in sorted(self.docs.items()) if k == kind)

    def revisions(self, kind: str, id: str) -> tuple[Document, ...]:
        return tuple(self.docs.get((kind, id), ()))

    def book(self, book: str) -> tuple[Entry, ...]:
        return tuple(self.logs.get(book, ()))

    def books(self) -> tuple[str, ...]:
        return tuple(sorted(self.logs))

    def originals(self) -> tuple[Original, ...]:
        return tuple(original for original, _ in self.kept.values())

    def heads(self) -> Mapping[str, tuple[int, str]]:
        return {book: (rows[-1].number, rows[-1].hash) for book, rows in self.logs.items() if rows}

    def loose_files(self) -> tuple[str, ...]:
        return ()

    def faults(self) -> tuple[Fault, ...]:
        return ()

    def memory(self, name: str) -> str | None:
        return self.memories.get(name)

    def remember(self, name: str, value: str | None) -> None:
        if value is None:
            self.memories.pop(name, None)
        else:
            self.memories[name] = value
