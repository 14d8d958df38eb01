"""An aircraft behind a MAVLink link that spoils frames, on a clock that only moves when something waits."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from itertools import count

from asflown.adapters.link.mavlink import MavLink
from asflown.demo.mavlink_aircraft import Server, Spoils
from asflown.errors import DeviceError


class SpoiltLine:
    """Frames to the simulated aircraft and back, each with its fate."""

    def __init__(self, server: Server, to: Spoils, back: Spoils, cut_at: float | None = None):
        self.server, self.to, self.back, self.cut_at = server, to, back, cut_at
        self.now, self.bytes = 0.0, 0
        self._events: list[tuple[float, int, bool, bytes]] = []
        self._numbers = count()
        self._came = b""

    def _push(self, arrivals, *, is_to: bool) -> None:
        for at, data in arrivals:
            heapq.heappush(self._events, (at, next(self._numbers), is_to, data))

    def send(self, data: bytes) -> None:
        self._alive()
        self._push(self.to.through([data], self.now), is_to=True)

    def _alive(self) -> None:
        if self.cut_at is not None and self.now > self.cut_at:
            raise DeviceError("talking", "the link is gone", trouble="lost")

    def receive(self, count: int, seconds: float) -> bytes:
        self._alive()
        end = self.now + seconds
        while True:
            self._push(self.back.through(self.server.due(self.now), self.now), is_to=False)
            while self._events and self._events[0][0] <= self.now:
                _, _, is_to, data = heapq.heappop(self._events)
                if is_to:
                    answers = self.server.feed(data, self.now)
                    self._push(self.back.through(answers, self.now), is_to=False)
                else:
                    self.bytes += len(data)
                    self._came += data
            if self._came or self.now >= end:
                data, self._came = self._came[:count], self._came[count:]
                return data
            ahead = self._events[0][0] if self._events else end
            self.now = min(end, max(self.now + 1e-6, min(ahead, self.now + 0.004)))

    def close(self) -> None:
        return None


class World:
    """Links to one server."""

    def __init__(self, server: Server, *, cut_at: float | None = None, seed: int = 0, **spoils: float):
        self.server = server
        self.line = SpoiltLine(server, Spoils(**spoils, seed=seed), Spoils(**spoils, seed=seed + 1), cut_at)
        self.links: list[MavLink] = []

    def open(self, address: str) -> MavLink:
        self.links.append(MavLink(self.line))
        return self.links[-1]

    def seconds(self) -> float:
        return self.line.now


Make = Callable[[], Server]
