"""A flight brought by a page is measured in a thread of its own, and kept."""

from __future__ import annotations

import time

from visitor import Visitor


def test_a_flight_is_added_by_page(flown_folder, copied):
    folder = copied(flown_folder)
    visitor = Visitor(folder / "store")
    page = visitor.get("/aircraft/tern/flights")
    before = len(visitor.json("/aircraft/tern/flights.json")["flights"])
    log = {"log": ("third.csv", (folder / "after.csv").read_bytes() + b"\n", "text/csv")}
    going = visitor.send(page, "add", log, accept="yes")
    assert "/work/" in going.path
    for _ in range(600):
        if "/work/" not in going.path:
            break
        time.sleep(0.1)
        going = visitor.get(going.path)
    assert "/flight/" in going.path, going.error
    assert len(visitor.json("/aircraft/tern/flights.json")["flights"]) == before + 1
