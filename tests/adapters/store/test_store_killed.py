"""Killed with SIGKILL at random instants while writing, again and again in one store: nothing said to be kept is lost.

A killed process proves that no instant between two system calls leaves the store half-written. It does not
prove what a power cut does: that rests on the flushes (``synchronous = FULL``, fsync of file and folder).
"""

from __future__ import annotations

import hashlib
import os
import random
import select
import signal
import time
from pathlib import Path

import pytest
from folder_world import opened
from killed_worker import work

from asflown.core.logbook import check_chain

KILLS = 220
SEED = 20260307
#: The longest a process may write, s.
LONGEST = 0.12


def forked(folder: Path, run: str) -> tuple[int, int]:
    """A process of its own that writes; forked, so that starting Python anew takes no time."""
    reads, writes = os.pipe()
    process = os.fork()
    if process == 0:
        os.dup2(writes, 1)
        os.close(reads)
        try:
            work(folder, run)
        finally:
            os._exit(1)
    os.close(writes)
    return process, reads


def killed_after(folder: Path, run: str, wait: float, *, from_start: bool) -> tuple[bytes, int]:
    """What it said, and how the process ended. ``from_start``: may be killed while it opens the store."""
    process, reads = forked(folder, run)
    said = b""
    while not from_start and b"\n" not in said:  # "open": the instants count from here
        assert select.select([reads], [], [], 30)[0], "it never opened the store"
        piece = os.read(reads, 65536)
        assert piece, "it ended by itself"
        said += piece
    time.sleep(wait)
    os.kill(process, signal.SIGKILL)
    while piece := os.read(reads, 65536):
        said += piece
    os.close(reads)
    return said, os.waitpid(process, 0)[1]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no SIGKILL there")
def test_nothing_that_was_said_to_be_kept_is_lost(tmp_path):
    rng = random.Random(SEED)
    kept: dict[int, tuple[str, str, str, int]] = {}
    silent = behind = 0
    for number in range(KILLS):
        from_start = number % 5 == 0
        wait = rng.uniform(0, 0.02 if from_start else LONGEST)
        said, ended = killed_after(tmp_path, f"run{number}", wait, from_start=from_start)
        assert os.WTERMSIG(ended) == signal.SIGKILL
        lines = [
            line for line in said.decode().split("\n")[:-1] if line != "open"
        ]  # a line cut in two was not said
        silent += not lines
        for line in lines:
            entry, hash, original, document, sheet = line.split(" ")
            kept[int(entry)] = (hash, original, document, int(sheet))
        store = opened(tmp_path)
        lag = len(store.book("wren")) - store.heads().get("wren", (0, ""))[0]
        assert lag in (0, 1), "heads behind by more than the last transaction"
        behind += lag
        store.close()

    store = opened(tmp_path)
    book = {entry.number: entry for entry in store.book("wren")}
    assert check_chain(book.values()) == ()
    assert store.faults() == ()
    for number, (hash, original, document, sheet) in kept.items():
        assert book[number].hash == hash
        assert hashlib.sha256(store.original(original)).hexdigest() == original
        found = store.document("note", document)
        assert (found.body, found.revision) == (b'{"sheet":%d}' % sheet, 1)
    for entry in book.values():  # kept whole also where nobody was told any more
        assert len(store.original(entry.body["original"])) > 0
        note = store.document("note", f"{entry.body['run']}-{entry.body['number']}")
        assert note.sha256 == entry.body["sha256"]
    assert [entry.body["sheet"] for entry in book.values()] == list(range(1, len(book) + 1))
    assert len(store.documents("note")) == len(store.originals()) == len(book)
    loose = store.loose_files()
    print(
        f"killed {KILLS} times (seed {SEED}): {len(kept)} transactions were said to be kept, all are there;"
        f" {len(book) - len(kept)} more were kept before they could say so; {silent} runs were killed before the"
        f" first; heads one behind after {behind} kills; {len(loose)} loose files"
    )
    assert len(kept) > KILLS // 2, "too few transactions: the kills hit nothing"
    assert loose, "no kill fell between an original and its row: the instants prove little"
