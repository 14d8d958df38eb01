"""A simulated aircraft whose stored parameters are a file, and a line to it without any wire or waiting."""

from __future__ import annotations

import csv
from pathlib import Path

from asflown.demo.aircraft.corrections import Corrections
from asflown.demo.aircraft.scenes import telemetry_of
from asflown.demo.mavlink_aircraft import Server
from asflown.demo.mavlink_files import Files, about
from asflown.errors import InputError

_TYPES = {"uint8": 1, "int8": 2, "uint16": 3, "int16": 4, "uint32": 5, "int32": 6, "real32": 9}
#: s that the aircraft's own clock goes on at a time while something waits for it.
_TICK = 0.002


def server_of(words: str, encoding: str = "bytewise") -> Server:
    """The aircraft of a file with ``name,type,value`` rows (``.params``), and a scene: ``FILE,SCENE``.

    A first line ``# NAME-MAJOR.MINOR`` says which release it runs. Where ``FILE.json`` lies beside
    ``FILE.params`` that is the aircraft's own description of them.

    Raises
    ------
    InputError
        When it is no such file.
    UsageError
        For a scene there is not.
    """
    path, _, scene = words.partition(",")
    place = Path(path)
    if place.suffix != ".params" or not place.is_file():
        raise InputError("is no simulated aircraft's parameters (a file NAME.params)", where=path)
    try:
        lines = place.read_text("utf-8").splitlines()
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
        values = {row["name"]: (_TYPES[row["type"]], float(row["value"])) for row in rows}
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"is no list of parameters ({error})", where=path) from None
    described = place.with_suffix(".json")
    files = Files(about(described.read_bytes())) if described.is_file() else None
    runs = lines[0].removeprefix("# ") if lines and lines[0].startswith("# ") else ""
    telemetry = telemetry_of(scene or "still")
    server = Server(values, encoding, rate=1e6, files=files, runs=runs, telemetry=telemetry)
    telemetry.corrections = Corrections(server)
    return server


class FileLine:
    """Frames to the simulated aircraft and back; what it stored is written to its file.

    Attributes
    ----------
    now
        s of a clock that only goes on while something waits: a minute of samples takes no minute.
    """

    def __init__(self, words: str, encoding: str = "bytewise") -> None:
        self.path, self.server = words.partition(",")[0], server_of(words, encoding)
        self.now = 0.0
        self._came = b""
        self._answers: list[bytes] = []

    def send(self, data: bytes) -> None:
        """Send all of it."""
        before = dict(self.server.stored)
        self._answers += self.server.feed(data, self.now)
        if self.server.stored != before:
            self._keep()

    def frames(self, now: float) -> list[bytes]:
        """Frames that go out by now: answers, and what it tells by itself."""
        self.now = now
        made, self._answers = [*self._answers, *self.server.due(now)], []
        return made

    def _keep(self) -> None:
        words = {number: word for word, number in _TYPES.items()}
        rows = [f"{name},{words[kind]},{value!r}" for name, (kind, value) in self.server.stored.items()]
        head = [f"# {self.server.runs}"] if self.server.runs else []
        Path(self.path).write_text("\n".join([*head, "name,type,value", *rows]) + "\n", "utf-8")

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""
        end = self.now + seconds
        while True:
            self._came += b"".join(self.frames(self.now))
            if self._came or self.now >= end:
                data, self._came = self._came[:count], self._came[count:]
                return data
            self.now = min(end, self.now + _TICK)

    def close(self) -> None:
        """Let go of it."""
