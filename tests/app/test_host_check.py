"""The host check: what is told of machines made up for it, and what waiting for a cable finds."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from golden_text import check_golden

sys.path.insert(0, str(Path(__file__).parents[1] / "core" / "load"))

from hosts import HELD, KEYBOARD, board, linux, port, rom

from asflown.app.host_check import HostChecked, look, watch
from asflown.app.views.host_shown import host_json, host_sheet, sentence
from asflown.core.load.host import HostSeen
from asflown.faces.cli.console import sheet_text


class Machines:
    """A machine that changes: how it looks from each second on, and a clock that moves only when waited for."""

    def __init__(self, *seen: tuple[float, HostSeen]) -> None:
        self.seen = seen
        self.time = 0.0

    def see(self) -> HostSeen:
        return [seen for since, seen in self.seen if since <= self.time][-1]

    def wait(self, seconds: float) -> None:
        self.time += seconds

    def elapsed(self) -> float:
        return 100 + self.time


SHEETS = {
    "ready": linux(KEYBOARD, rom()),
    "no_access": linux(KEYBOARD, rom(writable=False), unknown=("what 3 programs of other users have open",)),
    "running_and_held": linux(board(), ports=(HELD, replace(port(may_open=False), device="/dev/ttyUSB0"))),
    "nothing": linux(KEYBOARD),
    "windows": replace(linux(rom(writable=False, readable=False)), platform="win32", groups=None, rules=None),
    "unknown": linux(
        usb=None, ports=None, unknown=("USB devices: /sys/bus/usb/devices: No such file or directory",)
    ),
}


@pytest.mark.parametrize("name", SHEETS)
def test_the_sheet_reads_as_agreed(name):
    made = look(Machines((0, SHEETS[name])))
    check_golden(f"host_{name}.txt", sheet_text(host_sheet(made)))


def test_the_rule_is_not_broken_over_two_lines():
    text = sheet_text(host_sheet(look(Machines((0, SHEETS["no_access"])))))
    rule = 'SUBSYSTEM=="usb", ATTR{idVendor}=="0483", ATTR{idProduct}=="df11", MODE="0660", TAG+="uaccess"'
    assert [line for line in text.splitlines() if line.strip() == rule]


def test_what_is_plugged_in_while_it_looks_is_told():
    machine = Machines(
        (0, linux(KEYBOARD)),
        (4, linux(KEYBOARD, rom(node=None, writable=None))),
        (4.6, linux(KEYBOARD, rom())),
    )
    made = watch(machine, 60)
    assert made.appeared == ("USB device 0483:DF11 (Marsh BOOTLOADER) at 1-4",)
    assert made.is_ready  # its node came a little later than it did
    assert machine.time < 6
    assert sentence(made).startswith("Appeared: USB device 0483:DF11 (Marsh BOOTLOADER) at 1-4. USB device")


def test_what_goes_and_comes_back_is_new():
    there = linux(board(), ports=(port(),))
    made = watch(Machines((0, there), (2, linux()), (5, there)), 60)
    assert made.appeared == (
        "USB device 1209:0001 (Wrackline wrackline-2) at 1-2",
        "serial port /dev/ttyACM0",
    )
    assert not made.is_ready


def test_a_board_that_changes_into_its_boot_loader_is_new():
    before = rom(interfaces=())
    made = watch(Machines((0, linux(replace(before, product=0x5740))), (3, linux(rom()))), 60)
    assert made.appeared == ("USB device 0483:DF11 (Marsh BOOTLOADER) at 1-4",)


def test_nothing_new_is_said_so():
    machine = Machines((0, linux(KEYBOARD)))
    made = watch(machine, 7)
    assert made.waited_in_vain
    assert 7 <= machine.time <= 7.5
    assert sentence(made).startswith(
        "Nothing new appeared in 7 s. Nothing is ready to be written to; 1 thing in the way."
    )
    assert ("appeared", "nothing new") in host_sheet(made).head


def test_two_boot_loaders_are_one_too_many():
    made = look(Machines((0, linux(rom(), replace(rom(), place="1-5")))))
    assert sentence(made) == "2 devices are ready to be written to: leave one plugged in."


@pytest.mark.parametrize("name", SHEETS)
def test_json_says_the_same(name):
    made = look(Machines((0, SHEETS[name])))
    body = host_json(made)
    assert [f["statement"] for f in body["findings"]] == [f.statement for f in made.findings]
    assert body["ready"] == made.is_ready
    assert (body["usb"] is None) == (made.seen.usb is None)
    assert isinstance(made, HostChecked)
