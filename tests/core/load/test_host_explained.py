"""Why a board is seen or not: one machine after another, and what is said of each."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hosts import AT_RUN_TIME, HELD, KEYBOARD, board, linux, port, rom

from asflown.core.load.host import HostSeen, Rule, SerialPort, UsbDevice
from asflown.core.load.host_explained import (
    BY_BUTTON,
    BY_SERIAL,
    OTHER_CABLE,
    SAFE,
    HostFinding,
    Standing,
    explained,
    rule_for,
)

ROM = "USB device 0483:DF11 (Marsh BOOTLOADER) at 1-4"
BOARD = "USB device 1209:0001 (Wrackline wrackline-2) at 1-2"
PORT = "serial port /dev/ttyACM0 (wrackline-2)"


def first(seen: HostSeen) -> HostFinding:
    return explained(seen)[0]


def about(seen: HostSeen, subject: str) -> HostFinding:
    return next(finding for finding in explained(seen) if finding.subject == subject)


def test_a_boot_loader_that_may_be_written_is_ready():
    found = explained(linux(KEYBOARD, rom()))
    assert found == (
        HostFinding(
            ROM,
            Standing.READY,
            "in DFU mode (the processor's own boot loader), and this user may write to it",
        ),
    )


def test_without_access_the_rule_is_given():
    found = first(linux(rom(writable=False)))
    assert found.stands_in_the_way
    assert found.statement == (
        "in DFU mode (the processor's own boot loader), but this user may not write to it (/dev/bus/usb/001/004)"
    )
    assert found.ways_out[0] == (
        "put this line into a new file /etc/udev/rules.d/60-asflown-dfu.rules, as administrator:"
    )
    assert found.ways_out[1] == (
        'SUBSYSTEM=="usb", ATTR{idVendor}=="0483", ATTR{idProduct}=="df11", MODE="0660", TAG+="uaccess"'
    )
    assert found.ways_out[2].startswith(
        "have it read: sudo udevadm control --reload-rules; then unplug the board"
    )


def test_the_rule_names_what_was_found():
    other = UsbDevice(0x1209, 0x00AB, "2-1", interfaces=rom().interfaces, writable=False)
    found = first(linux(other))
    assert found.statement.startswith("in DFU mode (a boot loader of its maker's), but")
    assert 'ATTR{idVendor}=="1209", ATTR{idProduct}=="00ab"' in found.ways_out[1]


@pytest.mark.parametrize(
    ("text", "covers"),
    [
        (rule_for(rom()), True),
        ('ATTRS{idVendor} == "0483", MODE="0666"', True),
        ('ATTR{idVendor}=="0483", ATTR{idProduct}=="5740", MODE="0666"', False),
        ('ATTR{idVendor}=="0483", ATTR{idProduct}=="df11", ENV{ID_AUTOSEAT}="1"', False),
        ('ATTR{idVendor}=="1209", TAG+="uaccess"', False),
    ],
)
def test_a_rule_that_is_there_already_has_to_be_read(text, covers):
    found = first(linux(rom(writable=False), rules=(Rule("/etc/udev/rules.d/60-mine.rules", text),)))
    assert (
        found.ways_out[0].startswith("/etc/udev/rules.d/60-mine.rules has a rule for it; have it read")
        == covers
    )


def test_rules_that_could_not_be_read_are_not_taken_for_none():
    found = first(linux(rom(writable=False), rules=None))
    assert found.ways_out[0].endswith("as administrator (whether there is one already could not be read):")


@pytest.mark.parametrize(
    ("writable", "state"),
    [(False, "it cannot be opened"), (None, "whether it can be opened is not known")],
)
def test_windows_opens_it_through_its_own_driver_alone(writable, state):
    seen = replace(linux(rom(readable=writable, writable=writable)), platform="win32", rules=None)
    found = first(seen)
    assert found.stands_in_the_way == (writable is False)
    assert found.statement == (
        f"in DFU mode (the processor's own boot loader); {state}: Windows lets programs open such a device through"
        " its WinUSB driver alone"
    )
    assert 'class "Universal Serial Bus devices" (USBDevice), model "WinUsb Device"' in found.ways_out[0]
    assert not any("udev" in way for way in found.ways_out)
    assert first(replace(seen, usb=(rom(),))).standing is Standing.READY


def test_access_that_could_not_be_read_is_not_taken_for_access():
    found = first(linux(rom(readable=None, writable=None)))
    assert found.standing is Standing.SEEN
    assert found.statement.endswith("whether this user may write to it could not be read")


def test_a_port_that_may_not_be_opened_names_its_group():
    found = about(linux(board(), ports=(port(may_open=False),)), PORT)
    assert found.stands_in_the_way
    assert found.statement == "this user may not open it: it belongs to the group dialout"
    assert found.ways_out == ('join the group: sudo usermod -aG dialout "$USER"; then log out and in again',)
    assert "group uucp" in about(linux(ports=(port(may_open=False, group="uucp"),)), PORT).statement


def test_a_group_joined_since_the_session_began():
    seen = linux(ports=(port(may_open=False),), groups_next=("dialout", "ines"))
    found = about(seen, PORT)
    assert found.statement.endswith("the group dialout, which this session began without")
    assert found.ways_out == ("log out and in again",)
    odd = about(linux(ports=(port(may_open=False),), groups=("dialout",)), PORT)
    assert odd.statement == "this user may not open it, though in its group dialout"
    assert (
        about(linux(ports=(port(may_open=False, group=None),)), PORT).statement == "this user may not open it"
    )


def test_a_port_that_another_program_holds_names_it():
    found = about(linux(board(), ports=(HELD,)), PORT)
    assert found.stands_in_the_way
    assert found.statement == "another program has it open: modem-watch (process 812)"
    assert found.ways_out == ("close modem-watch, or end process 812; then look again",)


def test_a_board_that_runs_its_firmware_has_to_be_brought_into_its_boot_loader():
    found = about(linux(KEYBOARD, board(), ports=(port(),)), "boot loader")
    assert found.stands_in_the_way
    assert found.statement == (
        f"no device is in its boot loader. {BOARD} shows itself as a serial port: if it is the board, it runs its"
        " firmware and has to be brought into its boot loader first"
    )
    assert found.ways_out == (f"{SAFE}; then {BY_BUTTON}", BY_SERIAL)
    assert (
        "board that runs its firmware shows itself so"
        in about(linux(board(), ports=(port(),)), PORT).statement
    )


def test_a_serial_adapter_may_have_a_boot_loader_behind_it():
    adapter = SerialPort("/dev/ttyUSB0", vendor=0x1209, product=0x0010, may_open=True)
    found = about(linux(KEYBOARD, ports=(adapter,)), "serial port /dev/ttyUSB0")
    assert found.standing is Standing.SEEN
    assert found.statement == (
        "this user may open it; a USB serial adapter, or a board that runs its firmware. Whether a boot loader"
        " listens behind an adapter, only a call can tell"
    )


def test_a_board_without_a_port_of_it():
    found = about(linux(board(drivers=())), BOARD)
    assert found.statement == "a serial port by its class (CDC ACM), but no driver has taken it"


def test_nothing_there_means_cable_port_hub_and_boot_loader():
    found = explained(linux(KEYBOARD))
    assert [finding.statement for finding in found] == [
        "no board is seen: 1 USB device is there, none in its boot loader, and no USB serial port"
    ]
    assert found[0].ways_out == (OTHER_CABLE, f"{SAFE}; then {BY_BUTTON}", BY_SERIAL)
    assert "0 USB devices are there" in first(linux()).statement
    assert first(linux(ports=None)).statement.endswith("and serial ports could not be listed")


def test_the_way_into_the_boot_loader_is_safe_and_whole():
    for words in (BY_BUTTON, BY_SERIAL, SAFE):
        assert "\n" not in words
    for wanted in ("hold the boot button while plugging in USB", "tweezers", "let go after two seconds"):
        assert wanted in BY_BUTTON
    for wanted in (
        "its TX to RX",
        "its RX to TX",
        "GND to GND",
        "3.3 V",
        "USB alone",
        "propellers off",
        "pack unplugged",
    ):
        assert wanted in BY_SERIAL


def test_what_cannot_be_listed_is_not_called_absent():
    found = first(linux(usb=None))
    assert found.stands_in_the_way
    assert found.statement == "what is plugged in by USB cannot be listed here, so a board cannot be seen"


def test_a_run_time_interface_is_no_boot_loader():
    """Radios and cameras of laptops have one too."""
    radio = UsbDevice(0x1209, 0x0020, "1-7", name="radio", interfaces=(AT_RUN_TIME,), writable=True)
    found = explained(linux(radio))
    assert not any(finding.standing is Standing.READY for finding in found)
    assert found[0].subject == "USB"
    assert about(linux(radio), "USB device 1209:0020 (radio) at 1-7").statement == (
        "says it can be brought into DFU mode by a request; much that is no board says so too"
    )


def test_what_is_ready_stands_first_and_what_is_in_the_way_next():
    found = explained(linux(board(), rom(), ports=(port(), replace(HELD, device="/dev/ttyACM1"))))
    assert [finding.standing for finding in found] == [Standing.READY, Standing.IN_THE_WAY, Standing.SEEN]
