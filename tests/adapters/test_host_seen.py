"""What a machine shows, read from trees made up in a folder: whole ones, broken ones, none at all."""

from __future__ import annotations

import os
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asflown.adapters import host
from asflown.adapters.host import elsewhere_seen, linux_seen
from asflown.core.load.host import Holder, HostSeen, UsbInterface
from asflown.core.load.host_explained import Standing, explained


class Machine:
    """The trees of a Linux machine."""

    def __init__(self, folder: Path) -> None:
        self.sys, self.dev, self.proc, self.root = (folder / name for name in ("sys", "dev", "proc", "root"))
        self.devices = self.sys / "bus" / "usb" / "devices"
        self.ports: list[SimpleNamespace] = []

    def plug(
        self, place: str, files: dict[str, str | bytes], *interfaces: tuple[str, str, str], driver: str = ""
    ) -> None:
        for name, text in files.items():
            self._write(self.devices / place / name, text)
        for number, codes in enumerate(interfaces):
            inner = self.devices / f"{place}:1.{number}"
            for name, code in zip(
                ("bInterfaceClass", "bInterfaceSubClass", "bInterfaceProtocol"), codes, strict=True
            ):
                self._write(inner / name, code + "\n")
            if driver:
                (inner / "driver").symlink_to(f"../../../../bus/usb/drivers/{driver}")
        if {"busnum", "devnum"} <= files.keys():
            self._write(
                self.dev / "bus" / "usb" / f"{int(files['busnum']):03}" / f"{int(files['devnum']):03}", ""
            )

    def rom(self) -> None:
        files = {
            "idVendor": "0483\n", "idProduct": "df11\n", "busnum": "1\n", "devnum": "4\n", "manufacturer": "Marsh\n",
            "product": "BOOT \x1b[31mLOADER\n", "serial": "3A5C\n",
        }  # fmt: skip
        self.plug("1-4.2", files, ("fe", "01", "02"), ("fe", "01", "02"))

    def open_port(self, name: str, **more: int) -> str:
        path = self.dev / name
        self._write(path, "")
        self.ports.append(SimpleNamespace(device=str(path), description="n/a", **more))
        return str(path)

    def program(self, pid: int, name: str, *targets: str) -> None:
        self._write(self.proc / str(pid) / "comm", name + "\n")
        for number, target in enumerate(targets):
            (self.proc / str(pid) / "fd").mkdir(exist_ok=True)
            (self.proc / str(pid) / "fd" / str(number)).symlink_to(target)

    def rule(self, text: str, folder: str = "etc/udev/rules.d") -> None:
        self._write(self.root / folder / "60-a.rules", text)

    @staticmethod
    def _write(path: Path, text: str | bytes) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())

    def seen(self) -> HostSeen:
        return linux_seen(self.sys, self.dev, self.proc, self.root, lambda: self.ports)


@pytest.fixture
def machine(tmp_path):
    made = Machine(tmp_path)
    made.devices.mkdir(parents=True)
    made.proc.mkdir()
    return made


def test_a_boot_loader_is_read_whole(machine):
    machine.rom()
    machine.plug("usb1", {"idVendor": "1d6b", "idProduct": "0002"}, ("09", "00", "00"))
    machine.rule('# idVendor\nATTR{idVendor}=="0483", MODE="0666"\nKERNEL=="x"\n')
    seen = machine.seen()
    (device,) = seen.usb or ()
    assert (device.vendor, device.product, device.place) == (0x0483, 0xDF11, "1-4.2")
    assert (device.maker, device.name, device.serial) == ("Marsh", "BOOT [31mLOADER", "3A5C")
    assert device.interfaces == (UsbInterface(0xFE, 1, 2),) * 2
    assert device.node == str(machine.dev / "bus" / "usb" / "001" / "004")
    assert (device.readable, device.writable, device.drivers) == (True, True, ())
    assert [rule.text for rule in seen.rules or ()] == ['ATTR{idVendor}=="0483", MODE="0666"']
    assert seen.unknown == ()
    assert explained(seen)[0].standing is Standing.READY


def test_access_is_the_nodes_own(machine, monkeypatch):
    """Whoever runs the tests may be allowed everything: the system is asked, not the mode read."""
    machine.rom()
    monkeypatch.setattr(host.os, "access", lambda path, how: how == os.R_OK)
    (device,) = machine.seen().usb or ()
    assert (device.readable, device.writable) == (True, False)
    assert explained(machine.seen())[0].stands_in_the_way


def test_a_device_without_a_node_has_unknown_access(machine):
    machine.plug("1-1", {"idVendor": "0483", "idProduct": "df11"}, ("fe", "01", "02"))
    (device,) = machine.seen().usb or ()
    assert (device.node, device.readable, device.writable) == (None, None, None)


def test_ports_with_their_group_and_who_holds_them(machine):
    held = machine.open_port("ttyACM0", vid=0x1209, pid=1)
    machine.open_port("ttyUSB0", vid=0x1209, pid=2)
    machine.plug(
        "1-2",
        {"idVendor": "1209", "idProduct": "0001"},
        ("02", "02", "01"),
        ("0a", "00", "00"),
        driver="cdc_acm",
    )
    machine.program(812, "modem-watch", "/dev/null", held)
    machine.program(900, "shell", "/dev/null")
    machine.program(7, "", held)
    first, second = machine.seen().ports or ()
    assert first.held_by == (Holder(7, "a program without a name"), Holder(812, "modem-watch"))
    assert (first.may_open, first.vendor, first.description, second.held_by) == (True, 0x1209, "", ())
    grp = pytest.importorskip("grp")
    assert first.group == grp.getgrgid(os.stat(held).st_gid).gr_name
    assert (machine.seen().usb or ())[0].drivers == ("cdc_acm",)


def test_programs_of_others_are_said_to_be_unknown(machine, monkeypatch):
    machine.open_port("ttyACM0", vid=1, pid=1)
    machine.program(812, "modem-watch", "/dev/null")
    listdir = os.listdir

    def refusing(path):
        if str(path).endswith("fd"):
            raise PermissionError(13, "Permission denied")
        return listdir(path)

    monkeypatch.setattr(host.os, "listdir", refusing)
    assert machine.seen().unknown[0] == "what 1 programs of other users have open"


def test_a_machine_without_any_of_it(tmp_path):
    def broken():
        raise OSError(5, "Input/output error")

    seen = linux_seen(tmp_path / "sys", tmp_path / "dev", tmp_path / "proc", tmp_path, broken)
    assert (seen.usb, seen.ports, seen.rules) == (None, None, None)
    assert [text.partition(":")[0] for text in seen.unknown] == ["USB devices", "serial ports", "udev rules"]
    assert "Input/output error" in seen.unknown[1]
    assert explained(seen)[0].stands_in_the_way


def test_a_list_of_ports_that_breaks_hides_nothing_else(machine):
    machine.rom()
    machine.ports = [SimpleNamespace(name="without a device")]
    seen = machine.seen()
    assert seen.ports is None
    assert seen.usb
    assert seen.unknown[0].startswith("serial ports: ")


ATTRIBUTES = ("idVendor", "idProduct", "busnum", "devnum", "manufacturer", "product", "serial")
GARBAGE = st.one_of(
    st.binary(max_size=40),
    st.sampled_from([b"", b"0483\n", b"df11\n", b"fe\n", b"-1\n", b"\xff\xfe", b"0" * 5000]),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None)
@given(
    st.lists(st.dictionaries(st.sampled_from(ATTRIBUTES), GARBAGE), max_size=3),
    st.lists(st.tuples(GARBAGE, GARBAGE, GARBAGE), max_size=3),
    GARBAGE,
)
def test_garbage_never_fails(tmp_path_factory, devices, interfaces, rules):
    """Whatever stands in the files, something is seen, explained, and printable."""
    machine = Machine(tmp_path_factory.mktemp("machine"))
    machine.devices.mkdir(parents=True)
    for number, files in enumerate(devices):
        (machine.devices / f"1-{number}").mkdir()
        for name, data in files.items():
            (machine.devices / f"1-{number}" / name).write_bytes(data)
    for number, codes in enumerate(interfaces):
        inner = machine.devices / f"1-0:1.{number}"
        inner.mkdir()
        for name, data in zip(
            ("bInterfaceClass", "bInterfaceSubClass", "bInterfaceProtocol"), codes, strict=True
        ):
            (inner / name).write_bytes(data)
    machine.rule("")
    (machine.root / "etc/udev/rules.d/61-b.rules").write_bytes(b"idVendor " + rules)
    seen = machine.seen()
    assert seen.usb is not None
    assert all(
        word.isprintable()
        for device in seen.usb
        for word in (device.maker, device.name, device.serial)
        if word
    )
    assert explained(seen)


def test_odd_places_and_links_are_passed_over(machine):
    machine.plug("../escape", {"idVendor": "0483", "idProduct": "df11"})
    (machine.devices / "1-9").symlink_to("1-9")
    (machine.devices / "1-8").write_text("a file")
    (machine.devices / "1-7").mkdir()
    (machine.devices / "1-7" / "idVendor").mkdir()
    seen = machine.seen()
    assert seen.usb == ()
    assert seen.unknown[0] == "3 USB devices whose vendor or product could not be read"


class Usb:
    """A device as pyusb gives it; what is asked of it may fail."""

    idVendor, idProduct, bus, address, port_numbers = 0x0483, 0xDF11, 1, 7, (4, 2)
    manufacturer, product, serial_number = "Marsh", "BOOTLOADER", "3A5C"

    def __init__(self, error: Exception | None = None) -> None:
        self.error = error

    def get_active_configuration(self) -> None:
        if self.error:
            raise self.error

    def __iter__(self):
        yield [SimpleNamespace(bInterfaceClass=0xFE, bInterfaceSubClass=1, bInterfaceProtocol=2)]


@pytest.mark.parametrize(
    ("error", "opens"),
    [
        (None, True),
        (NotImplementedError("not supported"), False),
        (OSError(13, "Access denied"), False),
        (OSError(5, "?"), None),
    ],
)
def test_elsewhere_libusb_is_asked(error, opens):
    seen = elsewhere_seen("win32", list, lambda: [Usb(error)])
    (device,) = seen.usb or ()
    assert (device.ids, device.place, device.writable, device.interfaces) == (
        "0483:DF11",
        "1-4.2",
        opens,
        (UsbInterface(0xFE, 1, 2),),
    )
    assert explained(seen)[0].stands_in_the_way == (opens is False)


def test_elsewhere_without_libusb_it_is_unknown():
    def missing():
        raise ImportError("no libusb")

    seen = elsewhere_seen(
        "darwin", lambda: [SimpleNamespace(device="/dev/cu.x", description="x", vid=1, pid=2)], missing
    )
    assert (seen.usb, seen.unknown) == (None, ("USB devices: no libusb",))
    assert [port.device for port in seen.ports or ()] == ["/dev/cu.x"]


def test_the_real_machine_is_looked_at():
    """Whatever hangs on the machine of the tests: nothing fails, and every gap has its reason."""
    seen = host.ThisHost().see()
    assert explained(seen)
    assert seen.usb is not None or any(text.startswith("USB devices") for text in seen.unknown)
