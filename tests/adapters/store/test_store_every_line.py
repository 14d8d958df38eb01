"""Killed at every line of the store's own code, one after the other: a use case is there whole or not at all."""

from __future__ import annotations

import hashlib
import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from store_tools import opened, work_once

from asflown.app.logbook import verify

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork and no kill -9"),
]


def in_a_child(act: Callable[[int], None]) -> tuple[int, int]:
    """Run in another process; gives its number and the end of the pipe it acknowledges on."""
    out, into = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            os.close(out)
            act(into)
            code = 0
        finally:
            os._exit(code)
    os.close(into)
    return child, out


def read_all(pipe: int) -> bytes:
    data = b""
    while part := os.read(pipe, 65536):
        data += part
    os.close(pipe)
    return data


def check(folder: Path, acknowledged: list[int]) -> int:
    """Every acknowledged use case is there whole, every other one whole or not at all. Gives how many there are."""
    store = opened(folder)
    found = verify(store)
    assert found.faults == (), found.faults
    book = store.book("plover")
    done = {entry.body["number"]: entry for entry in book}
    assert len(done) == len(book), "no use case was done twice"
    missing = [number for number in acknowledged if number not in done]
    assert missing == []
    records = {document.id: document for document in store.documents("note")}
    assert len(records) == len(book), "a record without its entry, or an entry without its record"
    assert len(store.revisions("count", "plover")) == len(book)
    assert len(store.originals()) == len(book)
    for number, entry in done.items():
        data = store.original(entry.body["original"])
        assert data == f"listing {number}\n".encode() * 20
        assert records[entry.body["id"]].body.decode() == hashlib.sha256(data).hexdigest()
    store.close()
    return len(book)


def test_killed_at_every_line_of_the_stores_own_code(tmp_path):
    """The n-th line executed in adapters/store during one use case is the last one, for every n."""
    marker = os.path.join("adapters", "store")
    folder = tmp_path / "s"
    store = opened(folder)
    work_once(store, 0)
    store.close()
    acknowledged, kills = [0], 0
    for last in range(1, 2000):

        def work(into: int, last: int = last) -> None:
            store = opened(folder)
            seen = 0

            def trace(frame, event, arg):  # type: ignore[no-untyped-def]
                nonlocal seen
                if marker not in frame.f_code.co_filename:
                    return None
                if event == "line":
                    seen += 1
                    if seen == last:
                        os.kill(os.getpid(), signal.SIGKILL)
                return trace

            sys.settrace(trace)
            work_once(store, last)
            sys.settrace(None)
            os.write(into, b"%d\n" % last)

        child, out = in_a_child(work)
        _, status = os.waitpid(child, 0)
        here = [int(line) for line in read_all(out).split()]
        if os.WIFEXITED(status):
            assert os.WEXITSTATUS(status) == 0
            assert here == [last]
            acknowledged += here
            break
        kills += 1
        assert here == []
    kept = check(folder, acknowledged)
    kept_though_silent = kept - len(acknowledged)
    print(
        f"\nkilled at each of {kills} lines; {kept_though_silent} of them after the commit and before the answer"
    )
    assert kills > 60
    assert kept_though_silent >= 1
