"""Bytes of the boot loader's serial protocol and states of USB DFU, as sections 12.3 and 12.5 of the check values."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.load import dfu, rom_serial
from asflown.core.load.rom_serial import NEVER_SENT, Command


@pytest.fixture(scope="module")
def values(shared):
    return (shared / "check-values.md").read_text("utf-8")


#: ST AN3155 rev 2, table 2, as the check values give it: the two bytes of each command.
COMMANDS = {
    "Get": (Command.GET, "00 FF"),
    "Get Version & RDP": (Command.GET_VERSION, "01 FE"),
    "Get ID": (Command.GET_ID, "02 FD"),
    "Read Memory": (Command.READ, "11 EE"),
    "Go": (Command.GO, "21 DE"),
    "Write Memory": (Command.WRITE, "31 CE"),
    "Erase": (Command.ERASE, "43 BC"),
    "Extended Erase": (Command.EXTENDED_ERASE, "44 BB"),
    "Write Protect": (Command.WRITE_PROTECT, "63 9C"),
    "Write Unprotect": (Command.WRITE_UNPROTECT, "73 8C"),
    "Readout Protect": (Command.READOUT_PROTECT, "82 7D"),
    "Readout Unprotect": (Command.READOUT_UNPROTECT, "92 6D"),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_commands_and_their_complements(name):
    code, printed = COMMANDS[name]
    if code in NEVER_SENT:
        assert f"{int(code):02X} {int(code) ^ 0xFF:02X}" == printed
        with pytest.raises(ValueError, match="never sent"):
            rom_serial.command(code)
    else:
        assert rom_serial.command(code).hex(" ").upper() == printed


def test_the_table_is_the_check_values(values):
    part = values[values.index("12.5") : values.index("12.6")]
    pairs = re.findall(r"\| ([A-Z][A-Za-z &]+?) \| ([0-9A-F]{2} [0-9A-F]{2}) ", part)
    assert {name: printed for name, printed in pairs} == {
        name: printed for name, (_, printed) in COMMANDS.items()
    }


def test_checksums_worked_by_hand():
    """Check values 12.5, exclusive or by hand."""
    assert rom_serial.address(0x08000000).hex() == "0800000008"
    assert rom_serial.address(0x08004000).hex() == "0800400048"
    assert rom_serial.write_block(bytes.fromhex("deadbeef")).hex(" ").upper() == "03 DE AD BE EF 21"
    full = rom_serial.write_block(b"\xff" * 256)
    assert (full[0], full[-1], len(full)) == (0xFF, 0xFF, 258)
    assert rom_serial.erase_sectors([2]).hex(" ") == "00 00 00 02 02"


@given(st.binary(min_size=1, max_size=256))
def test_data_and_checksum_cancel(data):
    block = rom_serial.write_block(rom_serial.padded(data)[:256])
    assert rom_serial.xor(block) == 0
    assert block[1 : 1 + len(data)] == data


@pytest.mark.parametrize("data", [b"", b"abc", b"\x00" * 260])
def test_blocks_that_cannot_be_written(data):
    with pytest.raises(ValueError, match="cannot be written"):
        rom_serial.write_block(data)


@pytest.mark.parametrize("count", [0, 257])
def test_reads_that_cannot_be(count):
    with pytest.raises(ValueError, match="cannot be read"):
        rom_serial.read_size(count)


@pytest.mark.parametrize("sectors", [[], [1, 1]])
def test_erasing_that_cannot_be(sectors):
    with pytest.raises(ValueError, match="each once"):
        rom_serial.erase_sectors(sectors)


def test_states_and_statuses_are_the_standards(values):
    """USB DFU 1.1 section 6.1.2, as the check values list them."""
    part = values[values.index("12.3") : values.index("Suffix, last 16 bytes")]
    states = dict(
        re.findall(r"(\d+) ((?:app|dfu)[A-Z-]+)", part[part.index("bState:") : part.index("bStatus:")])
    )
    mine = {state.value: state.name for state in dfu.State}
    assert len(states) == len(mine) == 11
    for number, name in states.items():
        plain = name.removeprefix("dfu").replace("app", "app-").replace("-", "_").upper()
        assert mine[int(number)] == plain
    statuses = re.findall(
        r"([0-9A-F]{2}) (OK|err[A-Z_]+)", part[part.index("bStatus:") : part.index("Requests:")]
    )
    assert {int(code, 16): name for code, name in statuses} == {
        code: name for code, (name, _) in dfu.STATUS.items()
    }
    requests = re.findall(r"(\d) ([A-Z]{5,})", part[part.index("Requests:") :])
    assert {int(code): name for code, name in requests} == {one.value: one.name for one in dfu.Request}


def test_a_status_is_read():
    made = dfu.status_of(bytes((0x08, 0x10, 0x27, 0x00, 10, 0)))
    assert (made.wait, made.state, made.is_ok) == (10.0, dfu.State.ERROR, False)
    assert made.said == "the address is out of the device's range (errADDRESS)"
    assert dfu.status_of(bytes((0, 0, 0, 0, 2, 0))).is_ok
    assert "not in the standard" in dfu.status_of(bytes((0x33, 0, 0, 0, 2, 0))).said


@pytest.mark.parametrize("data", [b"", bytes(5), bytes(7), bytes((0, 0, 0, 0, 11, 0))])
def test_what_is_no_status_is_refused(data):
    with pytest.raises(ValueError, match=r"status has 6|not in the standard"):
        dfu.status_of(data)
