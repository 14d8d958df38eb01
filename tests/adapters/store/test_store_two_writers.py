"""Two processes write into one store at once, from the moment it is made."""

from __future__ import annotations

import multiprocessing
import time
from itertools import pairwise

import pytest
from folder_world import opened

from asflown.core.logbook import check_chain


def _writes(folder, name, count, start):
    start.wait(60)  # also the store is made by both at once
    store = opened(folder, who=name)
    for number in range(count):
        with store.transaction() as tx:
            tx.keep(f"{name} {number}".encode(), name=f"{name}.txt", kind="listing")
            sheet = tx.next_sheet("wren")
            tx.put("note", f"{name}-{number}", b"{}", expect=0)
            tx.log("wren", "comparison", {"writer": name, "number": number, "sheet": sheet})
        time.sleep(0.01)


@pytest.mark.slow
def test_two_processes_write_at_once_and_nothing_is_lost(tmp_path):
    count = 100
    context = multiprocessing.get_context("spawn")
    start = context.Barrier(2)
    workers = [
        context.Process(target=_writes, args=(tmp_path, name, count, start)) for name in ("ada", "ben")
    ]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(120)
    assert [worker.exitcode for worker in workers] == [0, 0]
    store = opened(tmp_path)
    book = store.book("wren")
    assert check_chain(book) == ()
    said = [(entry.body["writer"], entry.body["number"]) for entry in book]
    assert sorted(said) == sorted((name, number) for name in ("ada", "ben") for number in range(count))
    assert sorted(entry.body["sheet"] for entry in book) == list(range(1, 2 * count + 1))
    turns = sum(one[0] != other[0] for one, other in pairwise(said))
    print(f"two processes: {len(book)} transactions, {turns} changes of the writer")
    assert turns > 2, "they hardly took turns: nothing was proved"
    assert len(store.originals()) == len(store.documents("note")) == 2 * count
    assert store.heads() == {"wren": (2 * count, book[-1].hash)}
    assert store.loose_files() == ()
