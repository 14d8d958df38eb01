"""A simulated aircraft that speaks MAVLink: a parameter server on pymavlink, and a link that spoils.

It packs and reads frames by the reference library alone, as an independent counterpart of what asflown sends.
"""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from pymavlink.dialects.v20 import common

from asflown.demo.aircraft.telemetry import Telemetry
from asflown.demo.mavlink_files import GENERAL, Files, metadata_message

#: Types by number: struct code of a bytewise value (MAV_PARAM_TYPE).
_BYTES = {1: "<B", 2: "<b", 3: "<H", 4: "<h", 5: "<I", 6: "<i", 9: "<f"}
_BITS = {"bytewise": 16, "C cast": 131_072}


@dataclass
class Server:
    """The parameters of one aircraft.

    Attributes
    ----------
    values
        Type and value by name, in their order.
    limits
        Least and greatest value that is taken, by name.
    stored
        What stays over a restart.
    forbidden
        Commands that came and must never be sent: arming, motor tests.
    """

    values: dict[str, tuple[int, float]]
    encoding: str = "bytewise"
    limits: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    system: int = 1
    is_armed: bool = False
    forbidden: list[int] = field(default_factory=list)
    restarts: int = 0
    is_in_boot_loader: bool = False
    #: Bytes a second the link takes; what is listed waits for its turn.
    rate: float = 11_520.0
    #: Its files, with the description of its parameters; ``None``: it has none and no file transfer.
    files: Files | None = None
    #: The release it runs, e.g. ``dune-2.0``; empty: it does not say.
    runs: str = ""
    #: What it measures, while hands or a flight move it; ``None``: it tells nothing of it.
    telemetry: Telemetry | None = None
    #: Severity and text of what it says after its first heartbeat.
    texts: list[tuple[int, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.stored = dict(self.values)
        self._mav = common.MAVLink(None, self.system, 1)
        self._reader = common.MAVLink(None)
        self._reader.robust_parsing = True
        self._waiting: list[int] = []
        self._queue: list[bytes] = []
        self._beat = -1.0
        self._now = 0.0
        self._to_say = list(self.texts)
        self._sent = 0.0

    def feed(self, data: bytes, now: float) -> list[bytes]:
        """Frames it answers at once."""
        made: list[bytes] = []
        self._now = now
        for message in self._reader.parse_buffer(data) or ():
            made += self._answer(message)
        return made

    def due(self, now: float) -> list[bytes]:
        """Frames that are due by themselves: a heartbeat a second, what is listed at the link's own speed."""
        made = []
        self._now = now
        if self.telemetry is not None:
            made += [self._packed(message) for message in self.telemetry.due(now)]
            self.is_armed = self.telemetry.is_armed
        if now - self._beat >= 1.0:
            self._beat = now
            mode = 128 if self.is_armed else 0
            made.append(self._packed(common.MAVLink_heartbeat_message(2, 0, mode, 0, 4, 3)))
            made += [
                self._packed(common.MAVLink_statustext_message(severity, text.encode()))
                for severity, text in self._to_say
            ]
            self._to_say = []
        self._sent = max(self._sent, now - 0.05)
        while self._waiting and self._sent <= now:
            frame = self._value(self._waiting.pop(0))
            self._sent += len(frame) / self.rate
            made.append(frame)
        while self._queue and self._sent <= now:
            frame = self._queue.pop(0)
            self._sent += len(frame) / self.rate
            made.append(frame)
        return made

    def _packed(self, message: Any) -> bytes:
        return bytes(message.pack(self._mav))

    def _answer(self, message: Any) -> Iterator[bytes]:
        kind = message.get_type()
        if kind == "PARAM_REQUEST_LIST":
            self._waiting = list(range(len(self.values)))
        elif kind == "PARAM_REQUEST_READ":
            index = self._index(message)
            if index is not None:
                yield self._value(index)
        elif kind == "PARAM_SET":
            yield from self._set(message)
        elif kind == "COMMAND_LONG":
            yield from self._command(message)
        elif kind == "FILE_TRANSFER_PROTOCOL" and self.files is not None:
            # a burst goes out at the link's own speed
            self._queue += [
                self._packed(common.MAVLink_file_transfer_protocol_message(0, 255, 190, payload))
                for payload in self.files.answer(bytes(message.payload))
            ]

    def _index(self, message: Any) -> int | None:
        names = list(self.values)
        if message.param_index == -1:
            return names.index(message.param_id) if message.param_id in self.values else None
        return message.param_index if 0 <= message.param_index < len(names) else None

    def _value(self, index: int, *, as_set: bool = False) -> bytes:
        name = list(self.values)[index]
        kind, value = self.values[name]
        place = 65_535 if as_set else index
        shown = struct.unpack("<f", self._raw(kind, value))[0]
        frame = self._packed(
            common.MAVLink_param_value_message(name.encode(), shown, kind, len(self.values), place)
        )
        return _patched(frame, self._raw(kind, value))

    def _raw(self, kind: int, value: float) -> bytes:
        if self.encoding == "C cast" or kind == 9:
            return struct.pack("<f", value)
        return struct.pack(_BYTES[kind], int(value)).ljust(4, b"\0")

    def _set(self, message: Any) -> Iterator[bytes]:
        name = message.param_id
        if name not in self.values:
            return
        kind, _ = self.values[name]
        raw = bytes(message.get_msgbuf())[10:14]
        if self.encoding == "C cast" or kind == 9:
            value = struct.unpack("<f", raw)[0]
        else:
            code = _BYTES[kind]
            value = struct.unpack(code, raw[: struct.calcsize(code)])[0]
        low, high = self.limits.get(name, (float("-inf"), float("inf")))
        if message.param_type == kind and low <= value <= high:
            self.values[name] = (kind, value)
        yield self._value(list(self.values).index(name), as_set=True)

    def _command(self, message: Any) -> Iterator[bytes]:
        command, first = message.command, message.param1
        result = 0
        if command == 512 and first == 148:
            bits = _BITS[self.encoding] | (32 if self.files else 0)
            yield self._packed(
                common.MAVLink_autopilot_version_message(
                    bits, _software(self.runs), 0, 0, 7, bytes(8), bytes(8), bytes(8), 1, 1, 0x5AD0_0017
                )
            )
        elif command == 512 and first == 397 and self.files is not None and GENERAL in self.files.files:
            crc = zlib.crc32(self.files.files[GENERAL])
            yield metadata_message(self._mav, crc, f"mftp://{GENERAL}")
        elif command == 512:
            result = 3
        elif command == 511 and self.telemetry is not None:
            result = 0 if self.telemetry.ask(int(first), message.param2, self._now) else 3
        elif command == 245 and first == 1:
            self.stored = dict(self.values)
        elif command == 246 and first == 3:
            self.is_in_boot_loader = True
        elif command == 246 and first == 1:
            self.restarts += 1
            self.values = dict(self.stored)
            self._waiting = []
            self._to_say = list(self.texts)
            if self.telemetry is not None:
                self.telemetry.restarted()
        else:
            self.forbidden.append(command)
            result = 3
        yield self._packed(common.MAVLink_command_ack_message(command, result))


def _software(runs: str) -> int:
    """Major, minor, patch, and 255 for a release, each a byte; 0 where it does not say."""
    major, _, minor = runs.rpartition("-")[2].partition(".")
    if not (major.isdecimal() and minor.isdecimal()):
        return 0
    return int(major) << 24 | int(minor) << 16 | 255


def _patched(frame: bytes, raw: bytes) -> bytes:
    """The frame with these four bytes in its float field: not every one of them is a number a float keeps."""
    payload = bytearray(frame[10 : 10 + frame[1]].ljust(25, b"\0"))
    payload[:4] = raw
    while len(payload) > 1 and payload[-1] == 0:
        payload.pop()
    head = bytes((len(payload),)) + frame[2:10]
    crc = common.x25crc(head + bytes(payload))
    crc.accumulate(bytes((220,)))  # CRC_EXTRA of PARAM_VALUE
    return bytes(frame[:1] + head + bytes(payload) + int(crc.crc).to_bytes(2, "little"))


@dataclass
class Spoils:
    """A link that loses, spoils, doubles and reorders frames.

    Attributes
    ----------
    loss, corruption, doubling, reorder
        Shares of the frames.
    latency
        s of each frame, up to twice that.
    """

    loss: float = 0.0
    corruption: float = 0.0
    doubling: float = 0.0
    reorder: float = 0.0
    latency: float = 0.0
    seed: int = 0

    def __post_init__(self) -> None:
        self._numbers = random.Random(self.seed)

    def through(self, frames: list[bytes], now: float) -> list[tuple[float, bytes]]:
        """The frames that arrive, each with when."""
        made = []
        for frame in frames:
            if self._numbers.random() < self.loss:
                continue
            for _ in range(2 if self._numbers.random() < self.doubling else 1):
                data = bytearray(frame)
                if self._numbers.random() < self.corruption:
                    data[self._numbers.randrange(len(data))] ^= 1 << self._numbers.randrange(8)
                late = self.latency * (1 + self._numbers.random())
                if self._numbers.random() < self.reorder:
                    late += 0.02 + 0.3 * self._numbers.random()
                made.append((now + late, bytes(data)))
        return made
