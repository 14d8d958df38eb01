"""``asflown host-check``: what a person types, the exit codes, and the same as a page and as JSON."""

from __future__ import annotations

import pytest

from asflown.core.load.host import HostSeen, UsbDevice, UsbInterface
from asflown.faces import wiring

ROM = UsbDevice(
    0x0483, 0xDF11, "1-4", interfaces=(UsbInterface(0xFE, 1, 2),), readable=True, writable=True, drivers=()
)


class Machine:
    def __init__(self, *seen: HostSeen) -> None:
        self.seen = list(seen)
        self.time = 0.0

    def see(self) -> HostSeen:
        return self.seen.pop(0) if len(self.seen) > 1 else self.seen[0]

    def wait(self, seconds: float) -> None:
        self.time += seconds

    def elapsed(self) -> float:
        return self.time


@pytest.fixture
def machine(monkeypatch):
    def put(*seen: HostSeen) -> None:
        made = Machine(*seen)
        monkeypatch.setattr(wiring, "host", lambda: made)

    return put


NOTHING, READY = HostSeen("linux", usb=(), ports=()), HostSeen("linux", usb=(ROM,), ports=())


def test_something_ready(desk, machine):
    machine(READY)
    assert "USB device 0483:DF11 at 1-4 is ready to be written to." in desk("host-check").out
    body = desk("host-check", "--json").json
    assert (body["ready"], body["appeared"], body["usb"][0]["takes_firmware"]) == (True, None, True)


def test_something_to_do_first(desk, machine):
    machine(NOTHING)
    ran = desk("host-check", code=2)
    assert "a cable without data lines shows nothing" in ran.out
    assert "next: a cable without data lines" in ran.out
    assert desk("host-check", "--plain", code=2).out.isascii()


def test_a_cable_plugged_in_while_it_looks(desk, machine):
    machine(NOTHING, NOTHING, READY)
    ran = desk("host-check", "--watch", "30")
    assert "Appeared: USB device 0483:DF11 at 1-4." in ran.out
    machine(NOTHING, READY)
    assert desk("host-check", "--watch", "30", "--json").json["appeared"] == ["USB device 0483:DF11 at 1-4"]


def test_waiting_in_vain(desk, machine):
    machine(READY)
    ran = desk("host-check", "--watch", "2", code=7)
    assert "Nothing new appeared in 2 s." in ran.out


@pytest.mark.parametrize("seconds", ["0", "-1", "1e9", "nan"])
def test_times_that_cannot_be_waited(desk, machine, seconds):
    machine(READY)
    ran = desk("host-check", f"--watch={seconds}", code=1)
    assert "cannot be waited" in ran.err
    assert "at most 3600" in ran.err


def test_the_real_machine(desk):
    ran = desk("host-check", "--json", code=None)
    assert ran.code in (0, 2)
    assert ran.json["findings"]
    assert not desk.store.exists()
