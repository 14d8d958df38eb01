"""The simulated aircraft on a real line: UDP on this machine, or a pseudo-terminal, in real time."""

from __future__ import annotations

import contextlib
import heapq
import os
import select
import socket
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Protocol

from asflown.demo.mavlink_aircraft import Spoils
from asflown.demo.mavlink_file import FileLine
from asflown.errors import DeviceError, UsageError

#: Where whoever listens is expected; s between two looks.
PORT, _LOOK = 14_550, 0.002
_FAULTS = ("loss", "corruption", "doubling", "reorder", "latency")


class End(Protocol):
    """The aircraft's end of a line."""

    address: str

    def read(self) -> bytes:
        """What came, or nothing."""

    def write(self, data: bytes) -> None:
        """Send all of it."""

    def close(self) -> None:
        """Let go of it."""


class UdpEnd:
    """Sends to this machine's port, and takes what comes back."""

    def __init__(self, port: int = PORT) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", 0))
        self._socket.setblocking(False)
        self._to = ("127.0.0.1", port)
        self.address = f"udp:127.0.0.1:{port}"

    def read(self) -> bytes:
        """What came, or nothing."""
        try:
            return self._socket.recv(65_536)
        except (BlockingIOError, ConnectionRefusedError):
            return b""

    def write(self, data: bytes) -> None:
        """Send all of it; lost where nobody listens."""
        with contextlib.suppress(ConnectionRefusedError, BlockingIOError):
            self._socket.sendto(data, self._to)

    def close(self) -> None:
        """Let go of it."""
        self._socket.close()


class PtyEnd:
    """A pseudo-terminal that others open like a serial port."""

    def __init__(self) -> None:
        import tty

        self._own, self._other = os.openpty()
        tty.setraw(self._other)
        os.set_blocking(self._own, False)
        self.address = f"serial:{os.ttyname(self._other)}"

    def read(self) -> bytes:
        """What came, or nothing."""
        ready, _, _ = select.select([self._own], [], [], 0.0)
        if not ready:
            return b""
        try:
            return os.read(self._own, 65_536)
        except OSError:
            return b""

    def write(self, data: bytes) -> None:
        """Send all of it; what nobody fetches is lost, as on a wire."""
        with contextlib.suppress(BlockingIOError):
            os.write(self._own, data)

    def close(self) -> None:
        """Unplug it."""
        os.close(self._own)
        os.close(self._other)


def faults_of(text: str) -> dict[str, float]:
    """Shares of the frames that are lost, spoilt, doubled, reordered, and s of latency.

    Raises
    ------
    UsageError
        For what is none.

    Examples
    --------
    >>> faults_of("loss=0.3,latency=0.02")
    {'loss': 0.3, 'latency': 0.02}
    """
    made = {}
    for part in filter(None, (one.strip() for one in text.split(","))):
        name, _, value = part.partition("=")
        try:
            number = float(value)
        except ValueError:
            number = -1.0
        if name not in _FAULTS or not 0 <= number <= 1:
            raise UsageError(
                f"{part!r} is no fault of a link",
                next_step=f"e.g. loss=0.3,latency=0.02; one of {', '.join(_FAULTS)}",
            )
        made[name] = number
    return made


def end_of(way: str) -> End:
    """The aircraft's end of a line: ``udp``, ``udp:PORT`` or ``pty``.

    Raises
    ------
    UsageError
        For another word.
    DeviceError
        When it cannot be opened.
    """
    kind, _, port = way.partition(":")
    try:
        if kind == "pty" and not port:
            return PtyEnd()
        if kind == "udp" and (not port or port.isdecimal()):
            return UdpEnd(int(port or PORT))
    except (OSError, OverflowError, ImportError) as error:
        raise DeviceError(f"opening {way}", str(error), trouble="lost") from None
    raise UsageError(f"{way!r} is no way to the aircraft", next_step="udp, udp:14550 or pty")


@dataclass(frozen=True)
class Part:
    """What the aircraft is and does.

    Attributes
    ----------
    params
        Its stored parameters; what is stored goes back into the file.
    scene
        What happens to it.
    encoding
        How whole numbers stand in the float field: ``bytewise`` or ``C cast``.
    faults
        Of its link.
    """

    params: Path
    scene: str
    encoding: str = "bytewise"
    faults: Mapping[str, float] = field(default_factory=dict)


def serve(part: Part, end: End, *, is_over: Callable[[float], bool], seed: int = 1) -> Iterator[float]:
    """Be the aircraft until it is over; yields the seconds now and then.

    Parameters
    ----------
    is_over
        Told the seconds; true ends it.
    """
    line = FileLine(f"{part.params},{part.scene}", part.encoding)
    faults = part.faults
    to, back = Spoils(**faults, seed=seed), Spoils(**faults, seed=seed + 1)
    coming: list[tuple[float, int, bytes]] = []
    going: list[tuple[float, int, bytes]] = []
    numbers = count()
    begun = time.monotonic()
    try:
        while not is_over(now := time.monotonic() - begun):
            for at, data in to.through(_pieces(end.read()), now):
                heapq.heappush(coming, (at, next(numbers), data))
            while coming and coming[0][0] <= now:
                line.send(heapq.heappop(coming)[2])
            for at, data in back.through(line.frames(now), now):
                heapq.heappush(going, (at, next(numbers), data))
            while going and going[0][0] <= now:
                end.write(heapq.heappop(going)[2])
            yield now
            time.sleep(_LOOK)
    finally:
        end.close()


def _pieces(data: bytes) -> list[bytes]:
    return [data] if data else []
