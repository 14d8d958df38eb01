"""A short simulated flight as a log, made once a run."""

from __future__ import annotations

from functools import lru_cache

from asflown.adapters.log_file import LogBytes
from asflown.app.flights.open_log import NOTHING_SAID, Opened, Said, open_log
from asflown.demo.flight import plover_log

GROUND, FLOWN = 6.0, 24.0


@lru_cache(maxsize=2)
def log_bytes() -> bytes:
    """6 s on the ground, 24 s in the air."""
    return plover_log(seed=5, seconds=FLOWN, on_ground=GROUND)


def source(data: bytes | None = None, name: str = "flight.csv") -> LogBytes:
    return LogBytes(name, log_bytes() if data is None else data)


def opened(data: bytes | None = None, said: Said = NOTHING_SAID) -> Opened:
    return open_log(source(data), said)


def table(header: str, rows: int, *columns: str) -> bytes:
    """A small log: each column an expression of the row number ``i``."""
    lines = [header]
    for i in range(rows):
        lines.append(",".join(f"{eval(column, {'i': i}):.6g}" for column in columns))
    return ("\n".join(lines) + "\n").encode()
