"""The carried processor tables: JSON made by ``tools/processors/reduce.py``."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from asflown.core.ports.processor import Processor, Route


def read(data: bytes) -> Processor:
    """Read one table.

    Raises
    ------
    ValueError, KeyError
        When it is no such table: it is ours, so that is a fault of the program.
    """
    table: dict[str, Any] = json.loads(data)
    dma = table["dma"]
    groups = {name: tuple(lanes) for name, lanes in dma.get("groups", {}).items()}
    routes, behind = {}, {}
    for request, asked in dma["requests"].items():
        if groups:
            behind[request] = next(iter(asked))
        else:
            routes[request] = tuple(
                Route(lane, select) for lane, selects in asked.items() for select in selects.split(", ")
            )
    return Processor(
        table["processor"],
        table["source"],
        table["flash"],
        {letter: frozenset(_spread(pins)) for letter, pins in table["packages"].items()},
        table["timers"],
        tuple(table["serial"]),
        table["pins"],
        routes,
        behind,
        groups,
        _lane_word(groups, routes),
    )


def _lane_word(groups: Mapping[str, tuple[str, ...]], routes: Mapping[str, tuple[Route, ...]]) -> str:
    lanes = [lane for group in groups.values() for lane in group]
    lanes += [route.lane for found in routes.values() for route in found]
    return "stream" if any(" S" in lane for lane in lanes) else "channel"


def _spread(ranges: Iterable[str]) -> Iterable[str]:
    for text in ranges:
        match = re.fullmatch(r"(P[A-Z])(\d+)(?:-(\d+))?", text)
        if match is None:
            raise ValueError(f"{text!r} is no range of pins")
        first, last = int(match[2]), int(match[3] or match[2])
        yield from (f"{match[1]}{number}" for number in range(first, last + 1))
