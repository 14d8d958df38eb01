"""``found --link`` and ``write --link`` over real UDP and TCP sockets, against a simulated aircraft in a thread."""

from __future__ import annotations

import socket
import threading
import time

import pytest

from asflown.demo.mavlink_aircraft import Server

SAFE = ("--propellers-off", "--pack-unplugged")
REALS = {"idle.speed", "tilt.max", "beep.low", "lost.wait", "brake.hold"}
FOUND = {
    "lost.wait": 1.5, "lost.do": 1, "idle.speed": 0.055, "tilt.max": 35, "lamp.on": 0, "lamp.hue": 120,
    "beep.low": 10.5, "old.toy": 4,
}  # fmt: skip


def served(values) -> Server:
    return Server({name: (9 if name in REALS else 6, float(value)) for name, value in values.items()})


class Flying:
    """A parameter server that talks over a socket until it is told to stop."""

    def __init__(self, server: Server, port: int, way: str) -> None:
        self.server, self.port, self.way = server, port, way
        self.stop = threading.Event()
        self.listening = None
        if way == "tcp":
            self.listening = socket.create_server(("127.0.0.1", port))
        self.thread = threading.Thread(target=self._fly, daemon=True)
        self.thread.start()

    def _fly(self) -> None:
        begun = time.monotonic()
        if self.way == "udp":
            line = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
            line.connect(("127.0.0.1", self.port))
        else:
            line, _ = self.listening.accept()
        line.settimeout(0.002)
        with line:
            while not self.stop.is_set():
                now = time.monotonic() - begun
                frames = self.server.due(now)
                try:
                    data = line.recv(65_536)
                    if not data:
                        return
                    frames += self.server.feed(data, now)
                except (TimeoutError, ConnectionRefusedError):
                    pass
                for frame in frames:
                    try:
                        line.send(frame)
                    except OSError:
                        break

    def land(self) -> None:
        self.stop.set()
        self.thread.join(2)
        if self.listening is not None:
            self.listening.close()


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture
def air(request):
    made = []

    def fly(values, way="udp"):
        made.append(Flying(served(values), free_port(), way))
        return made[-1]

    yield fly
    for one in made:
        one.land()


@pytest.mark.parametrize("way", ["udp", "tcp"])
def test_a_record_is_read_over_a_socket(desk, air, way):
    desk.releases()
    desk.plover()
    flying = air(FOUND, way)
    body = desk("found", "--link", f"{way}:127.0.0.1:{flying.port}", "--json").json
    assert body["link"]["encoding"] == "bytewise"
    assert body["link"]["not_carried"] == {}
    shown = desk("records", "show", "plover-001").out
    assert "idle.speed" in shown
    assert "0.055" in shown
    assert flying.server.forbidden == []


def decided(desk) -> None:
    """Every open group settled by its first way."""
    for _ in range(40):
        found = desk("decide", "plover", "--json", code=None).json
        groups = found["groups"]
        if not groups:
            return
        group = groups[0]
        word = group["options"][0] if isinstance(group["options"][0], str) else group["options"][0]["id"]
        desk("decide", "plover", group["id"], "--choose", word, "--why", "as flown so far", code=None)
    raise AssertionError("it is never decided")


def test_a_whole_refit_over_udp_with_nobody_touching_a_file(desk, air):
    desk.releases()
    desk.plover()
    before = air(FOUND)
    desk("found", "--link", f"udp:127.0.0.1:{before.port}")
    before.land()
    desk("plan", "plover", "--to", "marl-2.0", code=None)
    decided(desk)
    desk("write-out", "plover", "--out", str(desk.folder / "out"))
    after = air(
        {"lost.wait": 1000, "lost.do": 1, "idle.speed": 0.07, "tilt.max": 35, "lights.on": 0, "lamp.hue": 120,
         "beep.low": 10.5, "brake.hold": 2, "log.rate": 50}
    )  # fmt: skip
    address = f"udp:127.0.0.1:{after.port}"
    assert "say first that it is so" in desk("write", "plover", "--link", address, code=2).err
    done = desk("write", "plover", "--link", address, *SAFE, "--json").json
    assert done["as_planned"]
    assert done["stored"]
    assert after.server.restarts == 1
    assert after.server.values["idle.speed"][1] == pytest.approx(0.055)
    assert after.server.forbidden == []
    assert "over" in desk("logbook", "plover").out
    assert "read back" in desk("aircraft", "show", "plover").out


def test_addresses_that_are_none(desk):
    desk.releases()
    desk.plover()
    for wrong in ("udp", "udp:host", "http://x:1", "tcp:x:99999", "serial:"):
        assert "is no address of a link" in desk("found", "--link", wrong, code=1).err
    assert "opening tcp:127.0.0.1:1" in desk("found", "--link", "tcp:127.0.0.1:1", code=7).err
    assert "one listing is wanted" in desk("found", "--link", "udp:x:1", "--terminal", "y", code=1).err
    assert "one way to the aircraft is wanted" in desk("write", "plover", *SAFE, code=1).err
    assert "no refit is open" in desk("write", "plover", "--link", "udp:127.0.0.1:1", *SAFE, code=2).err
