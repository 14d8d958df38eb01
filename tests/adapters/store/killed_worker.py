"""Writes transactions without end and says each one that was kept; run by test_store_killed, which kills it.

python killed_worker.py FOLDER RUN
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from folder_world import opened


def work(folder: Path, run: str) -> None:
    store = opened(folder, who=run)
    os.write(1, b"open\n")
    for number in range(10_000):
        data = f"{run} {number} ".encode() * (1 + number % 40)
        with store.transaction() as tx:
            original = tx.keep(data, name=f"{run}.txt", kind="listing")
            sheet = tx.next_sheet("wren")
            body = b'{"sheet":%d}' % sheet
            document = tx.put("note", f"{run}-{number}", body, expect=0)
            entry = tx.log(
                "wren",
                "comparison",
                {
                    "run": run,
                    "number": number,
                    "original": original.sha256,
                    "sheet": sheet,
                    "sha256": document.sha256,
                },
            )
        os.write(1, f"{entry.number} {entry.hash} {original.sha256} {document.id} {sheet}\n".encode())


if __name__ == "__main__":
    work(Path(sys.argv[1]), sys.argv[2])
