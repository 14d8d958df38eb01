"""MAVLink over any line of bytes: frames by the common dialect, and a guard before everything that leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

from asflown.core.link import asks
from asflown.core.link.asks import Ask
from asflown.core.link.ftp import FILE_TRANSFER_PROTOCOL, packet_of
from asflown.core.link.heard import Answered, Heard, Message, MetadataAt, Said, Version
from asflown.core.link.reading import Came
from asflown.core.link.samples import SENSORS, sample_of
from asflown.errors import DeviceError, StoreError

if TYPE_CHECKING:
    from pymavlink.dialects.v20 import common

#: Who we are: system 255, component 190, as ground stations are numbered.
SYSTEM, COMPONENT = 255, 190
#: MAV_TYPE_GCS, MAV_AUTOPILOT_INVALID, MAV_STATE_ACTIVE, by number.
_SECOND_VERSION = 0xFD
#: CRC_EXTRA of COMPONENT_METADATA.
METADATA_EXTRA = 182
#: What pymavlink calls a message that its dialect does not have.
_UNKNOWN_METADATA = f"UNKNOWN_{asks.COMPONENT_METADATA}"
_GROUND, _NO_AUTOPILOT, _ACTIVE = 6, 8, 4
#: STATUSTEXT.
_TEXT = 253


class Line(Protocol):
    """A line of bytes."""

    def send(self, data: bytes) -> None:
        """Send all of it."""

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""

    def close(self) -> None:
        """Let go of it."""


class MavLink:
    """A link to one aircraft.

    Attributes
    ----------
    target
        System and component that are spoken to; set when a heartbeat was chosen.
    bad
        Frames that came and did not hold.

    Raises
    ------
    DeviceError
        ``lost`` when the line is gone; ``not allowed`` when the guard refuses a message.
    """

    def __init__(self, line: Line) -> None:
        self.line = line
        self.target = (0, 0)
        self.bad = 0
        self._dialect = _dialect()
        self._mav: common.MAVLink = self._dialect.MAVLink(None, SYSTEM, COMPONENT)
        self._mav.robust_parsing = True

    def send(self, ask: Ask) -> None:
        """Send what is asked, if it may leave."""
        first = ask.first if isinstance(ask, asks.Command) else None
        command = ask.command if isinstance(ask, asks.Command) else None
        payload = ask.packet.payload if isinstance(ask, asks.Files) else b""
        why = asks.refused(ask.number, command, first, payload)
        if why is not None:
            raise DeviceError(f"sending message {ask.number}", why, trouble="not allowed")
        message = self._message(ask)
        if isinstance(ask, asks.Set):
            # the float field is filled byte by byte: packing a float would lose what is no number
            self.line.send(_with_raw(message.pack(self._mav), ask.raw, self._dialect))
        else:
            self.line.send(message.pack(self._mav))

    def _message(self, ask: Ask) -> Any:
        system, component = self.target
        mav = self._mav
        if isinstance(ask, asks.RequestList):
            return mav.param_request_list_encode(system, component)
        if isinstance(ask, asks.RequestRead):
            return mav.param_request_read_encode(system, component, ask.name.encode("ascii"), ask.index)
        if isinstance(ask, asks.Set):
            return mav.param_set_encode(system, component, ask.name.encode("ascii"), 1.0, ask.kind)
        if isinstance(ask, asks.Command):
            given = (ask.first, ask.second, 0.0, 0.0, 0.0, 0.0, 0.0)
            return mav.command_long_encode(system, component, ask.command, ask.confirmation, *given)
        if isinstance(ask, asks.Files):
            return mav.file_transfer_protocol_encode(0, system, component, ask.packet.payload)
        return mav.heartbeat_encode(_GROUND, _NO_AUTOPILOT, 0, 0, _ACTIVE)

    def receive(self, seconds: float) -> tuple[tuple[int, Message], ...]:
        """What came until now, each with the system it came from; waits so many seconds for the first."""
        first = self.line.receive(1, seconds)
        if not first:
            return ()
        data = first + self.line.receive(65_536, 0.0)
        return tuple(self._read(data))

    def _read(self, data: bytes) -> list[tuple[int, Message]]:
        made: list[tuple[int, Message]] = []
        for message in self._mav.parse_buffer(data) or ():
            if message.get_type() == "BAD_DATA":
                self.bad += 1
                continue
            if self._is_anothers(message):
                continue
            if message.get_type() == _UNKNOWN_METADATA:
                frame = bytes(message.get_msgbuf())
                found = _metadata(frame, self._dialect)
                made += [] if found is None else [(frame[5], found)]
                continue
            read = _meant(message)
            if read is not None:
                made.append((message.get_srcSystem(), read))
        return made

    def _is_anothers(self, message: Any) -> bool:
        """Whether another part of the same aircraft sent it: a gimbal has parameters and an attitude too."""
        system, component = self.target
        return (
            component != 0 and message.get_srcSystem() == system and message.get_srcComponent() != component
        )

    def close(self) -> None:
        """Let go of the line."""
        self.line.close()


def _dialect() -> Any:
    try:
        from pymavlink.dialects.v20 import common
    except ImportError:
        raise StoreError(
            "the library for MAVLink frames is not installed",
            next_step="install asflown with its extra: pip install 'asflown[link]'",
        ) from None
    return common


def _meant(message: Any) -> Message | None:
    kind = message.get_msgId()
    if kind == FILE_TRANSFER_PROTOCOL:
        return packet_of(bytes(message.payload))
    if kind == 22:
        return _value(message)
    if kind == asks.HEARTBEAT:
        # a ground station's own heartbeat (MAV_AUTOPILOT_INVALID) is no aircraft
        if message.autopilot == _NO_AUTOPILOT:
            return None
        return Heard(
            message.get_srcSystem(),
            message.get_srcComponent(),
            message.type,
            bool(message.base_mode & asks.ARMED),
        )
    if kind == asks.AUTOPILOT_VERSION:
        return Version(message.capabilities, message.flight_sw_version, message.board_version, message.uid)
    if kind == 77:
        return Answered(message.command, message.result)
    if kind in SENSORS:
        return sample_of(kind, {name: getattr(message, name) for name in message.fieldnames})
    if kind == _TEXT:
        text = message.text
        shown = text.decode("utf-8", "replace") if isinstance(text, bytes) else str(text)
        return Said(message.severity, "".join(one for one in shown if one.isprintable()))
    return None


def _metadata(frame: bytes, dialect: Any) -> MetadataAt | None:
    """A COMPONENT_METADATA: pymavlink's common dialect does not have it, so its CRC is checked here.

    Fields in their order on the wire: time_boot_ms u32, file_crc u32, uri char[100] (from memory; CRC_EXTRA
    follows from them by the standard's rule, see the tests).
    """
    if frame[0] != _SECOND_VERSION or len(frame) < 12 + frame[1]:
        return None
    end = 10 + frame[1]
    crc = dialect.x25crc(frame[1:end])
    crc.accumulate(bytes((METADATA_EXTRA,)))
    if int(crc.crc) != int.from_bytes(frame[end : end + 2], "little"):
        return None
    payload = frame[10:end].ljust(108, b"\0")
    uri = payload[8:108].split(b"\0", 1)[0]
    try:
        return MetadataAt(int.from_bytes(payload[4:8], "little"), uri.decode("utf-8"))
    except UnicodeDecodeError:
        return None


def _value(message: Any) -> Came | None:
    """A PARAM_VALUE with the bytes of its float field as they came: some of them are no number."""
    frame = bytes(message.get_msgbuf())
    begin = 10 if frame[0] == _SECOND_VERSION else 6
    payload = frame[begin : begin + frame[1]].ljust(25, b"\0")
    name = payload[8:24].split(b"\0", 1)[0]
    try:
        text = name.decode("ascii")
    except UnicodeDecodeError:
        return None
    count, index = int.from_bytes(payload[4:6], "little"), int.from_bytes(payload[6:8], "little")
    if not text.isprintable() or not text:
        return None
    return Came(text, payload[:4], payload[24], count, index)


def _with_raw(frame: bytes, raw: bytes, dialect: Any) -> bytes:
    """A PARAM_SET whose value is these four bytes: payload and CRC are made anew."""
    payload = bytearray(frame[10 : 10 + frame[1]].ljust(23, b"\0"))
    payload[:4] = raw
    while len(payload) > 1 and payload[-1] == 0:
        payload.pop()
    head = bytes((len(payload),)) + frame[2:10]
    crc = dialect.x25crc(head + bytes(payload))
    crc.accumulate(bytes((dialect.MAVLink_param_set_message.crc_extra,)))
    return bytes(frame[:1] + head + bytes(payload) + int(crc.crc).to_bytes(2, "little"))
