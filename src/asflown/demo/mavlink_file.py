"""A simulated aircraft whose stored parameters are a file, and a line to it without any wire."""

from __future__ import annotations

import csv
import time
from pathlib import Path

from asflown.demo.mavlink_aircraft import Server
from asflown.errors import InputError

_TYPES = {"uint8": 1, "int8": 2, "uint16": 3, "int16": 4, "uint32": 5, "int32": 6, "real32": 9}


def server_of(path: str) -> Server:
    """The aircraft of a file with ``name,type,value`` rows (``.params``).

    Raises
    ------
    InputError
        When it is no such file.
    """
    place = Path(path)
    if place.suffix != ".params" or not place.is_file():
        raise InputError("is no simulated aircraft's parameters (a file NAME.params)", where=path)
    try:
        rows = list(csv.DictReader(place.read_text("utf-8").splitlines()))
        values = {row["name"]: (_TYPES[row["type"]], float(row["value"])) for row in rows}
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"is no list of parameters ({error})", where=path) from None
    return Server(values, rate=1e6)


class FileLine:
    """Frames to the simulated aircraft and back; what it stored is written to its file."""

    def __init__(self, path: str) -> None:
        self.path, self.server = path, server_of(path)
        self._begun = time.monotonic()
        self._came = b""

    def _now(self) -> float:
        return time.monotonic() - self._begun

    def send(self, data: bytes) -> None:
        """Send all of it."""
        before = dict(self.server.stored)
        self._came += b"".join(self.server.feed(data, self._now()))
        if self.server.stored != before:
            self._keep()

    def _keep(self) -> None:
        words = {number: word for word, number in _TYPES.items()}
        rows = [f"{name},{words[kind]},{value!r}" for name, (kind, value) in self.server.stored.items()]
        Path(self.path).write_text("\n".join(["name,type,value", *rows]) + "\n", "utf-8")

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""
        end = self._now() + seconds
        while True:
            self._came += b"".join(self.server.due(self._now()))
            if self._came or self._now() >= end:
                data, self._came = self._came[:count], self._came[count:]
                return data
            time.sleep(0.002)

    def close(self) -> None:
        """Let go of it."""
