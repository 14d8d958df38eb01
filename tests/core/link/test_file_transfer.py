"""Packets of the file transfer against pymavlink, and the machine that reads a file, against a dumb server."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymavlink import mavftp_op
from pymavlink.dialects.v20 import common

from asflown.core.link.asks import Files, refused
from asflown.core.link.file_reading import LARGEST, RESTARTS, TRIES, FileReader
from asflown.core.link.ftp import ERRORS, FIELD, READS, ROOM, Op, Packet, packet_of, why_not
from asflown.demo.mavlink_files import Files as Served


def test_opcodes_and_errors_are_those_of_the_common_dialect() -> None:
    """MAV_FTP_OPCODE and MAV_FTP_ERR of pymavlink's common dialect."""
    names = {
        Op.TERMINATE: "TERMINATESESSION", Op.RESET: "RESETSESSION", Op.OPEN: "OPENFILERO", Op.READ: "READFILE",
        Op.CRC: "CALCFILECRC", Op.BURST: "BURSTREADFILE", Op.ACK: "ACK", Op.NAK: "NAK",
    }  # fmt: skip
    assert {op: getattr(common, f"MAV_FTP_OPCODE_{name}") for op, name in names.items()} == {
        op: int(op) for op in Op
    }
    assert sorted(ERRORS) == list(range(1, common.MAV_FTP_ERR_ENUM_END))
    assert common.MAV_FTP_ERR_EOF == 6
    assert common.MAVLink_file_transfer_protocol_message.array_lengths[-1] == FIELD


@given(
    st.integers(0, 65_535), st.integers(0, 255), st.sampled_from(sorted(READS)), st.binary(max_size=ROOM),
    st.integers(0, 255), st.booleans(), st.integers(0, 2**32 - 1),
)  # fmt: skip
def test_a_packet_is_the_bytes_pymavlink_packs_and_is_read_back(number, session, op, data, of, last, offset):
    packet = Packet(number, session, op, len(data), of, last, offset, data)
    theirs = mavftp_op.FTP_OP(number, session, op, len(data), of, int(last), offset, bytearray(data)).pack()
    assert packet.payload == bytes(theirs).ljust(FIELD, b"\0")
    assert packet_of(packet.payload) == packet


@pytest.mark.parametrize("op", range(256))
def test_only_what_reads_may_leave(op) -> None:
    payload = Packet(1, 0, op, 0, 0, False, 0).payload
    assert (refused(110, payload=payload) is None) == (op in READS)
    writes = {getattr(mavftp_op, f"OP_{name}") for name in (
        "CreateFile", "WriteFile", "RemoveFile", "CreateDirectory", "RemoveDirectory", "OpenFileWO", "TruncateFile",
        "Rename",
    )}  # fmt: skip
    if op in writes:
        assert why_not(payload) is not None


def test_a_payload_that_claims_more_than_its_room_is_none() -> None:
    assert packet_of(bytes((0, 0, 0, 128, 240)) + bytes(FIELD - 5)) is None
    assert why_not(bytes((0, 0, 0, 5, 240)) + bytes(FIELD - 5)) is not None


def read(server: Served, path: str = "/x", loss: float = 0.0, seed: int = 0) -> FileReader:
    """Run the machine against the server; each answer may be lost, doubled or come late."""
    numbers = random.Random(seed)
    reader, now = FileReader(path), 0.0
    late: list[bytes] = []
    for _ in range(200_000):
        if reader.is_done:
            return reader
        came = late
        late = []
        for ask in reader.asks(now):
            assert isinstance(ask, Files)
            if numbers.random() >= loss:
                came += server.answer(ask.packet.payload)
        for payload in came:
            fate = numbers.random()
            if fate < loss:
                continue
            (late if fate < loss * 1.3 else [payload]).append(payload)
            if fate >= loss * 1.3:
                reader.take(packet_of(payload), now)
                if fate > 1 - loss / 3:
                    reader.take(packet_of(payload), now)
        now += 0.02
    raise AssertionError("never ends")


DATA = random.Random(3).randbytes(239 * 40 + 7)


@pytest.mark.parametrize("size", [0, 1, 238, 239, 240, 478, 239 * 64, 239 * 65 + 1])
@pytest.mark.parametrize("bursts", [True, False])
def test_a_file_of_any_size_is_read_exactly(size, bursts) -> None:
    data = random.Random(size).randbytes(size)
    reader = read(Served({"/x": data}, bursts=bursts))
    assert (reader.trouble, reader.data) == ("", data)


@pytest.mark.parametrize("seed", range(50))
def test_a_file_is_exact_where_a_third_is_lost_and_others_come_twice_or_late(seed) -> None:
    server = Served({"/x": DATA}, burst_at_once=random.Random(seed).choice((3, 17, 200)))
    reader = read(server, loss=0.3, seed=seed)
    assert (reader.trouble, reader.data) == ("", DATA)
    assert not server.forbidden


def test_what_cannot_be_read_is_said() -> None:
    assert "no such file" in read(Served({})).trouble
    assert "at most" in read(Served({"/x": bytes(LARGEST + 1)})).trouble


def test_a_silent_aircraft_ends_it() -> None:
    reader, asked = FileReader("/x"), 0
    for step in range(100_000):
        asked += len(list(reader.asks(step * 0.1)))
        if reader.is_done:
            break
    assert "no answer while opening" in reader.trouble
    assert asked == 2 * TRIES


def test_a_session_forgotten_half_way_is_opened_again_and_not_for_ever() -> None:
    server = Served({"/x": DATA}, burst_at_once=5)
    reader, now, forgotten = FileReader("/x"), 0.0, 0
    while not reader.is_done:
        for ask in reader.asks(now):
            if reader.share > 0.4 and forgotten < 2:
                forgotten += 1
                server._open = None
            for payload in server.answer(ask.packet.payload):
                reader.take(packet_of(payload), now)
        now += 0.1
    assert (reader.trouble, reader.data, forgotten) == ("", DATA, 2)

    reader, now = FileReader("/x"), 0.0
    while not reader.is_done:
        for ask in reader.asks(now):
            for payload in server.answer(ask.packet.payload):
                reader.take(packet_of(payload), now)
            server._open = None
        now += 0.1
    assert f"{RESTARTS} times" in reader.trouble
