"""An exchange that was captured once is replayed: the same bytes must leave, and the same record comes of it.

The capture holds every frame in both directions; the aircraft's side was packed by pymavlink. ``ASFLOWN_CAPTURE=1``
captures it anew (look at what changed then).
"""

from __future__ import annotations

import os
from decimal import Decimal
from pathlib import Path

from mavlink_world import World
from pymavlink.dialects.v20 import common

from asflown.adapters.link.mavlink import MavLink
from asflown.app.link.over_mavlink import parameters
from asflown.app.link.talk import Talk
from asflown.core.link.asks import Set
from asflown.core.link.values import ParamType, encoded
from asflown.demo.mavlink_aircraft import Server

CAPTURE = Path(__file__).parent.parent / "references" / "exchanges" / "read_write_read.txt"
HEAD = """\
# An exchange with a parameter server packed by pymavlink 2.4.50 (common dialect), 2026-11-27: heartbeat, version,
# all parameters, three written, one of them refused, all parameters again. Seconds, > to the aircraft, < from it.
"""
VALUES = {
    "QUAY_TRIM": (9, 0.15), "QUAY_MODE": (1, 3.0), "QUAY_SIGN": (6, -1.0), "QUAY_WIDE": (5, 4_000_000_000.0),
    "QUAY_SIXTEEN_16_": (4, -1234.0),
}  # fmt: skip
WANTED = {"QUAY_TRIM": "0.25", "QUAY_SIGN": "100", "QUAY_MODE": "9"}


def aircraft() -> Server:
    return Server(dict(VALUES), limits={"QUAY_MODE": (0.0, 5.0)})


def exchange(at) -> tuple[dict, list, dict]:
    """What is done with the aircraft: read, write, read."""
    with Talk(at, "udp:x") as talk:
        encoding = talk.greet().encoding
        before = parameters(talk.read_all(), encoding)
        items = [
            Set(name, encoded(Decimal(text), ParamType(VALUES[name][0]), encoding), VALUES[name][0])
            for name, text in WANTED.items()
        ]
        writer = talk.write(items)
        after = parameters(talk.read_all(), encoding)
    return dict(before.values), [one.name for one in writer.refused], dict(after.values)


class Capturing(World):
    """Writes down every frame."""

    def __init__(self) -> None:
        super().__init__(aircraft())
        self.rows: list[str] = []
        send, receive = self.line.send, self.line.receive

        def sent(data):
            self.rows.append(f"{self.line.now:.4f} > {data.hex()}")
            send(data)

        def received(count, seconds):
            data = receive(count, seconds)
            if data:
                self.rows.append(f"{self.line.now:.4f} < {data.hex()}")
            return data

        self.line.send, self.line.receive = sent, received


class Replayed:
    """A line that answers as it was captured, and holds what is sent against what was sent then."""

    def __init__(self, text: str) -> None:
        rows = [line.split() for line in text.splitlines() if not line.startswith("#")]
        self.rows = [(float(at), way, bytes.fromhex(data)) for at, way, data in rows]
        self.at, self.now, self.sent = 0, 0.0, 0

    def open(self, address: str) -> MavLink:
        return MavLink(self)

    def seconds(self) -> float:
        return self.now

    def send(self, data: bytes) -> None:
        _, way, was = self.rows[self.at]
        assert (way, data.hex()) == (">", was.hex()), f"frame {self.at}"
        self.at, self.sent = self.at + 1, self.sent + 1

    def receive(self, count: int, seconds: float) -> bytes:
        end = self.now + seconds
        if self.at < len(self.rows) and self.rows[self.at][1] == "<" and self.rows[self.at][0] <= end + 1e-4:
            at, _, data = self.rows[self.at]
            self.now, self.at = max(self.now, at), self.at + 1
            return data
        self.now = end
        return b""

    def close(self) -> None:
        return None


EXPECTED = {name: Decimal(str(value)) for name, (_, value) in VALUES.items()}


def test_the_capture_is_replayed_byte_for_byte() -> None:
    if os.environ.get("ASFLOWN_CAPTURE") == "1":
        made = Capturing()
        exchange(made)
        CAPTURE.parent.mkdir(parents=True, exist_ok=True)
        CAPTURE.write_text(HEAD + "\n".join(made.rows) + "\n", encoding="utf-8")
    line = Replayed(CAPTURE.read_text("utf-8"))
    before, refused, after = exchange(line)
    assert line.at == len(line.rows)
    assert line.sent > 10
    assert before == EXPECTED
    assert refused == ["QUAY_MODE"]
    assert after == {**EXPECTED, "QUAY_TRIM": Decimal("0.25"), "QUAY_SIGN": Decimal(100)}


def test_what_was_sent_then_reads_in_pymavlink_as_it_was_meant() -> None:
    """The frames that left, decoded by pymavlink: only what the guard allows, to this aircraft, with good check sums."""
    reader = common.MAVLink(None)
    kinds = []
    for line in CAPTURE.read_text("utf-8").splitlines():
        if " > " in line and not line.startswith("#"):
            for message in reader.parse_buffer(bytes.fromhex(line.split()[2])):
                kinds.append(message.get_type())
                assert message.get_srcSystem() == 255
    assert set(kinds) == {
        "HEARTBEAT", "COMMAND_LONG", "PARAM_REQUEST_LIST", "PARAM_SET",
    }  # fmt: skip
    assert kinds.count("PARAM_SET") == 2 + 3  # the refused one is asked three times before it counts


def test_the_heartbeats_of_the_check_values_are_heard() -> None:
    """Section 14: one heartbeat as version 1 and as version 2 of the protocol."""
    for text in ("fe0900010100000000000200510403b1c0", "fd0900000001010000000000000002005104032b03"):
        line = Replayed(f"0.0 < {text}\n")
        [(system, heard)] = MavLink(line).receive(0.1)
        assert (system, heard.system, heard.component, heard.kind, heard.is_armed) == (1, 1, 1, 2, False)
