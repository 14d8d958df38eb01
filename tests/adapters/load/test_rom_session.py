"""Reading, erasing and writing over the serial boot loader, against a simulated one that decodes on its own."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.adapters.load.rom_session import RomSession
from asflown.core.image.processors import processor
from asflown.demo.flash import SimulatedFlash
from asflown.demo.rom_loader import SimulatedLoader
from asflown.errors import DeviceError

F407 = processor("STM32F407xG")
SECTORS = tuple((sector.start, sector.size) for sector in F407.sectors)


class Wire:
    """Bytes straight into the simulated loader; faults between them."""

    def __init__(self, loader, spoil=lambda data: data, sent=lambda data: data):
        self.loader, self.spoil, self.sent = loader, spoil, sent
        self.came = b""

    def send(self, data):
        self.came += self.spoil(self.loader.feed(self.sent(data)))

    def receive(self, count, seconds):
        data, self.came = self.came[:count], self.came[count:]
        return data


@pytest.fixture
def flash():
    return SimulatedFlash(SECTORS)


@pytest.fixture
def session(flash):
    made = RomSession(Wire(SimulatedLoader(flash, 0x413)))
    made.connect()
    return made


def test_what_the_loader_is(flash):
    said = RomSession(Wire(SimulatedLoader(flash, 0x413))).connect()
    assert (said.version, said.chip) == ("3.1", F407.chip_id)
    assert 0x44 in said.commands


def test_a_loader_that_is_awake_is_found_again(flash):
    wire = Wire(SimulatedLoader(flash, 0x413))
    RomSession(wire).connect()
    assert RomSession(wire).connect().chip == 0x413


def test_a_silent_line_is_said(flash):
    wire = Wire(SimulatedLoader(flash, 0x413), spoil=lambda data: b"")
    with pytest.raises(DeviceError, match="no answer to 6 calls"):
        RomSession(wire).connect()


def test_written_reads_back_only_after_erasing(session, flash):
    """Writing clears bits: over old bytes it makes the wrong ones."""
    at = SECTORS[5][0]
    flash.put(at, b"\x0f" * 8)
    session.write(at, b"\xf0" * 8)
    assert session.read(at, 8) == bytes(8)
    session.erase(F407.sectors[5])
    session.write(at, b"\xf0" * 8)
    assert session.read(at, 8) == b"\xf0" * 8


@given(st.binary(min_size=1, max_size=1500))
def test_any_bytes_come_back(data):
    flash = SimulatedFlash(SECTORS)
    session = RomSession(Wire(SimulatedLoader(flash, 0x413)))
    session.connect()
    padded = data + b"\xff" * (-len(data) % 4)
    for offset in range(0, len(padded), 256):
        session.write(SECTORS[0][0] + offset, padded[offset : offset + 256])
    assert session.read(SECTORS[0][0], len(data)) == data


def test_a_protected_flash_refuses_and_protection_is_not_touched(flash):
    flash.protected = True
    loader = SimulatedLoader(flash, 0x413)
    session = RomSession(Wire(loader))
    session.connect()
    with pytest.raises(DeviceError, match="refused") as told:
        session.read(SECTORS[0][0], 4)
    assert told.value.trouble == "not allowed"
    assert loader.refused == []


def test_a_write_protected_sector_is_named(session, flash):
    flash.write_protected = frozenset({3})
    with pytest.raises(DeviceError, match="erasing sector 3: refused"):
        session.erase(F407.sectors[3])


@pytest.mark.parametrize("at", [0, 1, 2, 3, 5])
def test_a_byte_lost_or_spoilt_on_the_way_is_never_taken_for_success(flash, at):
    """Each byte of a write is dropped, then flipped: the session complains, or the flash holds what was meant."""
    for fault in (lambda d: d[:at] + d[at + 1 :], lambda d: d[:at] + bytes((d[at] ^ 0x10,)) + d[at + 1 :]):
        wire = Wire(SimulatedLoader(flash, 0x413))
        session = RomSession(wire)
        session.connect()
        session.erase(F407.sectors[0])
        wire.sent = lambda data, fault=fault: fault(data) if len(data) > at and len(data) > 5 else data
        try:
            session.write(SECTORS[0][0], b"\x12\x34\x56\x78")
        except DeviceError:
            continue
        wire.sent = lambda data: data
        assert session.read(SECTORS[0][0], 4) == b"\x12\x34\x56\x78"


@pytest.mark.parametrize(
    "stuck", [b"\x31", b"\x31\xce\x08", b"\x11\xee\x08\x00\x00\x00\x08", b"\x44\xbb\xbb\x00", b"\x44"]
)
def test_a_talk_cut_off_anywhere_comes_back_into_step(flash, stuck):
    """A loader that waits for the rest of something is filled up until it answers again; the flash stays."""
    loader = SimulatedLoader(flash, 0x413)
    flash.put(SECTORS[0][0], bytes(range(256)) * 4)
    before = bytes(flash.memory)
    session = RomSession(Wire(loader))
    session.connect()
    loader.feed(stuck)
    session.recover()
    assert session.read(SECTORS[0][0], 8) == bytes(range(8))
    assert bytes(flash.memory) == before
    assert loader.refused == []
