"""USB DFU through pyusb's own code, against a simulated device that runs the published state machine on its own."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.adapters.load import usb_dfu
from asflown.adapters.load.ports import MachinePorts
from asflown.core.image.processors import processor
from asflown.core.load import dfuse
from asflown.core.load.told import misfits
from asflown.demo.dfu_device import SimulatedDfu
from asflown.demo.flash import SimulatedFlash
from asflown.demo.usb_backend import SimulatedBackend
from asflown.errors import DeviceError, UsageError

F407 = processor("STM32F407xG")
SECTORS = tuple((sector.start, sector.size) for sector in F407.sectors)


@pytest.fixture
def dfu():
    made = SimulatedDfu(SimulatedFlash(SECTORS))
    made.wait_ms = dict.fromkeys(made.wait_ms, 0)
    return made


@pytest.fixture
def backend(dfu):
    return SimulatedBackend(dfu)


@pytest.fixture
def session(backend):
    return MachinePorts(backend=backend).open("usb:1-4")


def test_what_is_plugged_in(backend):
    assert [(one.name, one.says) for one in usb_dfu.found(backend)] == [
        ("usb:1-4", "a board in USB DFU mode (0483:df11)")
    ]
    backend.unplugged = True
    assert usb_dfu.found(backend) == ()
    with pytest.raises(UsageError, match=r"no board in USB DFU mode is at usb:1-4 \(there: none\)"):
        MachinePorts(backend=backend).open("usb:1-4")


def test_what_the_device_tells_is_the_processor(session):
    told = session.connect()
    assert told.said == "USB DFU 1.1a"
    assert tuple((s.start, s.size) for s in told.sectors) == SECTORS
    assert (told.block, told.can_read, list(misfits(told, F407))) == (2048, True, [])
    assert "12 sectors, 1024 KiB" in "".join(misfits(told, processor("STM32F722xE")))


@given(st.binary(min_size=1, max_size=9000))
def test_any_bytes_come_back(data):
    dfu = SimulatedDfu(SimulatedFlash(SECTORS))
    dfu.wait_ms = dict.fromkeys(dfu.wait_ms, 0)
    session = MachinePorts(backend=SimulatedBackend(dfu)).open("usb:1-4")
    session.connect()
    at = SECTORS[5][0]
    for offset in range(0, len(data), 2048):
        session.write(at + offset, data[offset : offset + 2048])
    assert session.read(at, len(data)) == data
    assert dfu.refused == []


def test_erasing_is_by_sector_and_the_rest_stays(session, dfu):
    session.connect()
    for start, _ in SECTORS[:4]:
        dfu.flash.put(start, b"\x55" * 8)
    session.erase(F407.sectors[2])
    assert [session.read(start, 8) for start, _ in SECTORS[:4]] == [b"\x55" * 8] * 2 + [
        b"\xff" * 8,
        b"\x55" * 8,
    ]


def test_a_protected_device_is_told_and_stays_protected(session, dfu):
    dfu.flash.protected = True
    session.connect()
    with pytest.raises(DeviceError, match="errVENDOR") as told:
        session.read(SECTORS[0][0], 16)
    assert told.value.trouble == "not allowed"
    assert dfu.refused == []


def test_a_sector_that_may_not_be_erased_is_told_in_the_standards_words(session, dfu):
    dfu.flash.write_protected = frozenset({1})
    session.connect()
    with pytest.raises(DeviceError, match=r"erasing sector 1: erasing the memory failed \(errERASE\)"):
        session.erase(F407.sectors[1])
    assert session.read(SECTORS[0][0], 4) == b"\xff" * 4


def test_a_device_left_in_an_error_is_brought_back(session, dfu):
    dfu.state, dfu.status = 10, 0x0E
    assert session.connect().block == 2048


def test_leaving_starts_the_firmware_and_the_device_is_gone(session, dfu, backend):
    session.connect()
    session.leave(0x08008000)
    assert dfu.started == 0x08008000
    with pytest.raises(DeviceError) as told:
        session.read(SECTORS[0][0], 4)
    assert told.value.trouble == "lost"


def test_unplugged_in_the_middle_is_lost(session, backend):
    session.connect()
    backend.unplugged = True
    with pytest.raises(DeviceError) as told:
        session.read(SECTORS[0][0], 4)
    assert told.value.trouble == "lost"


#: Texts as data sheets and notes of the maker print them (AN2606, UM0391; from memory), and what they mean.
LAYOUTS = {
    "@Internal Flash  /0x08000000/04*016Kg,01*064Kg,07*128Kg": (12, 1024 * 1024),
    "@Internal Flash   /0x08000000/04*016Kg,01*64Kg,03*128Kg": (8, 512 * 1024),
    "@Internal Flash  /0x08000000/16*128Kg": (16, 2048 * 1024),
    "@Internal Flash  /0x08000000/128*001Kg": (128, 128 * 1024),
    "@Internal Flash  /0x08000000/04*016Kg/0x08080000/02*128Kg": (6, 320 * 1024),
}


@pytest.mark.parametrize(("text", "means"), LAYOUTS.items())
def test_the_text_of_an_interface_tells_the_sectors(text, means):
    sectors = dfuse.layout(text)
    assert (len(sectors), sum(sector.size for sector in sectors)) == means
    assert dfuse.name_of(text) == "Internal Flash"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "@",
        "Internal Flash /0x0/1*1Kg",
        "@Option Bytes  /0x1FFFC000/01*016 e",
        "@X /0x08000000/0*",
        "@/0x1/x*y",
    ],
)
def test_other_texts_are_refused(text):
    with pytest.raises(ValueError, match=r"."):
        dfuse.layout(text)


@given(st.text(max_size=80))
def test_no_text_breaks_the_reader(text):
    try:
        dfuse.layout("@" + text)
    except ValueError:
        return


def test_commands_of_the_extension():
    """UM0391: 0x21 and 0x41 with the address, least byte first (from memory)."""
    assert dfuse.set_address(0x08004000).hex() == "2100400008"
    assert dfuse.erase(0x08004000).hex() == "4100400008"
