"""What this machine shows of USB devices and serial ports. It judges nothing and never fails.

What cannot be read is ``None``, and the reason stands among what is unknown.
"""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from asflown.core.load.host import Holder, HostSeen, Rule, SerialPort, UsbDevice, UsbInterface

#: Most bytes of one attribute that are looked at, most devices, and most open files of other programs.
_ATTRIBUTE, _MOST, _MOST_FILES = 512, 2000, 200_000
_RULES = ("etc/udev/rules.d", "run/udev/rules.d", "usr/lib/udev/rules.d", "lib/udev/rules.d")
_LARGEST_RULE_FILE = 1 << 20
#: A USB device's folder: ``1-4.2``, or a root hub ``usb1``; an interface's has a colon.
_DEVICE = re.compile(r"(?:\d+-[\d.]+|usb\d+)\Z")

#: What pyserial's list gives: objects with device, description, vid, pid.
ListPorts = Callable[[], Iterable[Any]]


class ThisHost:
    """The machine asflown runs on, its time included."""

    def see(self) -> HostSeen:
        """What is there now."""
        return linux_seen() if sys.platform.startswith("linux") else elsewhere_seen(sys.platform)

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        time.sleep(seconds)

    def elapsed(self) -> float:
        """Seconds since some moment."""
        return time.monotonic()


def _listed() -> Iterable[Any]:
    from serial.tools.list_ports import comports

    made: Iterable[Any] = comports()
    return made


def linux_seen(
    sys_root: Path = Path("/sys"),
    dev_root: Path = Path("/dev"),
    proc_root: Path = Path("/proc"),
    rules_root: Path = Path("/"),
    listed: ListPorts = _listed,
) -> HostSeen:
    """What a Linux machine shows.

    Parameters
    ----------
    sys_root, dev_root, proc_root, rules_root
        Where its trees begin.
    listed
        Lists serial ports as pyserial does.
    """
    unknown: list[str] = []
    usb = _usb(sys_root / "bus" / "usb" / "devices", dev_root, unknown)
    ports = _ports(listed, unknown)
    if ports:
        ports = _held(ports, proc_root, unknown)
    here, later = _groups(unknown)
    return HostSeen("linux", here, later, usb, ports, _rules(rules_root, unknown), tuple(unknown))


def elsewhere_seen(
    platform: str, listed: ListPorts = _listed, usb: Callable[[], Iterable[Any]] | None = None
) -> HostSeen:
    """What another machine shows: serial ports by pyserial, USB devices by libusb where that works."""
    unknown: list[str] = []
    try:
        devices: tuple[UsbDevice, ...] | None = tuple(map(_by_libusb, (usb or _libusb)()))
    except Exception as error:
        unknown.append(f"USB devices: {_why(error)}")
        devices = None
    ports = _ports(listed, unknown)
    return HostSeen(platform, None, None, devices, ports, None, tuple(unknown))


def _why(error: Exception) -> str:
    text = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return " ".join((text or type(error).__name__).split())[:200]


# ------------------------------------------------------------------------------------------ USB on Linux


def _usb(folder: Path, dev_root: Path, unknown: list[str]) -> tuple[UsbDevice, ...] | None:
    try:
        entries = sorted(os.listdir(folder))
    except OSError as error:
        unknown.append(f"USB devices: {folder}: {_why(error)}")
        return None
    made, broken = [], 0
    for entry in [name for name in entries if _DEVICE.match(name)][:_MOST]:
        device = _device(folder / entry, entries, dev_root)
        if device is None:
            broken += 1
        else:
            made.append(device)
    if broken:
        unknown.append(f"{broken} USB devices whose vendor or product could not be read")
    return tuple(device for device in made if not _is_hub(device))


def _is_hub(device: UsbDevice) -> bool:
    """A hub is no device a person plugged in to speak to."""
    return bool(device.interfaces) and all(i.base == 0x09 for i in device.interfaces or ())


def _device(place: Path, entries: Sequence[str], dev_root: Path) -> UsbDevice | None:
    vendor, product = _number(place / "idVendor", 16), _number(place / "idProduct", 16)
    if vendor is None or product is None:
        return None
    inner = [place.parent / entry for entry in entries if entry.startswith(f"{place.name}:")]
    interfaces = tuple(found for path in inner if (found := _interface(path)) is not None)
    bus, number = _number(place / "busnum", 10), _number(place / "devnum", 10)
    node = None if bus is None or number is None else dev_root / "bus" / "usb" / f"{bus:03}" / f"{number:03}"
    there = node is not None and _exists(node)
    drivers = tuple(sorted({name for path in inner if (name := _link_name(path / "driver"))}))
    return UsbDevice(
        vendor,
        product,
        place.name,
        _text(place / "manufacturer"),
        _text(place / "product"),
        _text(place / "serial"),
        interfaces if inner else None,
        str(node) if node is not None and there else None,
        os.access(node, os.R_OK) if node is not None and there else None,
        os.access(node, os.W_OK) if node is not None and there else None,
        drivers if inner else None,
    )


def _interface(place: Path) -> UsbInterface | None:
    codes = [
        _number(place / name, 16) for name in ("bInterfaceClass", "bInterfaceSubClass", "bInterfaceProtocol")
    ]
    base, sub, protocol = codes
    return None if base is None or sub is None or protocol is None else UsbInterface(base, sub, protocol)


def _text(place: Path) -> str | None:
    """The first line of an attribute, what cannot be printed left out; ``None`` where there is none."""
    try:
        with open(place, "rb") as stream:
            data = stream.read(_ATTRIBUTE)
    except (OSError, ValueError):
        return None
    line = data.split(b"\n", 1)[0].decode("utf-8", "replace")
    return "".join(letter for letter in line if letter.isprintable()).strip() or None


def _number(place: Path, base: int) -> int | None:
    text = _text(place)
    if text is None or not re.fullmatch("[0-9a-fA-F]{1,4}" if base == 16 else "[0-9]{1,3}", text):
        return None
    return int(text, base)


def _link_name(place: Path) -> str | None:
    try:
        return Path(os.readlink(place)).name or None
    except (OSError, ValueError):
        return None


def _exists(place: Path) -> bool:
    try:
        return place.exists()
    except OSError:
        return False


# ------------------------------------------------------------------------------------------ serial ports


def _ports(listed: ListPorts, unknown: list[str]) -> tuple[SerialPort, ...] | None:
    try:
        found = list(listed())[:_MOST]
        return tuple(sorted(map(_port, found), key=lambda port: port.device))
    except Exception as error:  # a list that breaks on a strange device must not hide the rest
        unknown.append(f"serial ports: {_why(error)}")
        return None


def _port(info: Any) -> SerialPort:
    device = str(info.device)
    description = str(getattr(info, "description", None) or "")
    return SerialPort(
        device,
        "" if description == "n/a" else "".join(c for c in description if c.isprintable())[:120],
        getattr(info, "vid", None),
        getattr(info, "pid", None),
        os.access(device, os.R_OK | os.W_OK) if os.path.exists(device) else None,
        _group(device),
    )


def _group(device: str) -> str | None:
    try:
        import grp

        return grp.getgrgid(os.stat(device).st_gid).gr_name
    except (ImportError, OSError, ValueError, KeyError):
        return None


def _held(ports: Sequence[SerialPort], proc_root: Path, unknown: list[str]) -> tuple[SerialPort, ...]:
    """The ports with the programs that have them open, as far as this user may look."""
    by_device = {os.path.realpath(port.device): port.device for port in ports}
    holders: dict[str, dict[int, Holder]] = {port.device: {} for port in ports}
    hidden = 0
    for folder in _processes(proc_root, unknown):
        targets = _open_files(folder)
        hidden += targets is None
        for target in targets or ():
            device = by_device.get(target)
            if device is not None:
                pid = int(folder.name)
                holders[device][pid] = Holder(pid, _text(folder / "comm") or "a program without a name")
    if hidden:
        unknown.append(f"what {hidden} programs of other users have open")
    made = []
    for port in ports:
        held = tuple(holders[port.device][pid] for pid in sorted(holders[port.device]))
        made.append(
            SerialPort(
                port.device, port.description, port.vendor, port.product, port.may_open, port.group, held
            )
        )
    return tuple(made)


def _processes(proc_root: Path, unknown: list[str]) -> Iterator[Path]:
    try:
        names = [name for name in os.listdir(proc_root) if name.isascii() and name.isdigit()]
    except OSError as error:
        unknown.append(f"which programs hold a port: {_why(error)}")
        return
    own = str(os.getpid())
    yield from (proc_root / name for name in sorted(names) if name != own and len(name) < 12)


def _open_files(folder: Path) -> list[str] | None:
    """What the links of a program's open files lead to; ``None`` where this user may not look."""
    try:
        names = os.listdir(folder / "fd")[:_MOST_FILES]
    except PermissionError:
        return None
    except OSError:
        return []
    found = []
    for name in names:
        try:
            found.append(os.readlink(folder / "fd" / name))
        except (OSError, ValueError):
            continue
    return found


# ------------------------------------------------------------------------------------------ groups, rules


def _groups(unknown: list[str]) -> tuple[tuple[str, ...] | None, tuple[str, ...] | None]:
    """The groups of this session, and of the next one."""
    try:
        import pwd

        here = tuple(sorted(filter(None, map(_name_of, {*os.getgroups(), os.getegid()}))))
        me = pwd.getpwuid(os.geteuid())
        later = tuple(sorted(filter(None, map(_name_of, os.getgrouplist(me.pw_name, me.pw_gid)))))
    except (ImportError, OSError, KeyError) as error:
        unknown.append(f"this user's groups: {_why(error)}")
        return None, None
    return here, later


def _name_of(gid: int) -> str | None:
    import grp

    try:
        return grp.getgrgid(gid).gr_name
    except (KeyError, OverflowError):
        return None


def _rules(root: Path, unknown: list[str]) -> tuple[Rule, ...] | None:
    """Lines of udev rules that name a vendor; ``None`` where no folder of rules can be read."""
    made: dict[tuple[str, str], Rule] = {}
    read = 0
    for folder in (root / part for part in _RULES):
        try:
            names = sorted(name for name in os.listdir(folder) if name.endswith(".rules"))
        except OSError:
            continue
        read += 1
        for name in names[:_MOST]:
            for text in _rule_lines(folder / name):
                made.setdefault((name, text), Rule(str(folder / name), text))
    if not read:
        unknown.append("udev rules: there is no folder of them")
        return None
    return tuple(made.values())


def _rule_lines(file: Path) -> Iterator[str]:
    try:
        with open(file, "rb") as stream:
            data = stream.read(_LARGEST_RULE_FILE)
    except (OSError, ValueError):
        return
    for line in data.decode("utf-8", "replace").split("\n"):
        text = line.strip()
        if "idVendor" in text and not text.startswith("#"):
            yield text[:1000]


# ------------------------------------------------------------------------------------------ by libusb


def _libusb() -> Iterable[Any]:
    import libusb_package
    import usb.core

    found: Iterable[Any] = usb.core.find(find_all=True, backend=libusb_package.get_libusb1_backend())
    return list(found)


def _by_libusb(found: Any) -> UsbDevice:
    ports = ".".join(str(number) for number in _tried(lambda: found.port_numbers) or ())
    opens = _opens(found)
    made = UsbDevice(
        found.idVendor,
        found.idProduct,
        f"{found.bus}-{ports}" if ports else f"{found.bus}, address {found.address}",
        _tried(lambda: found.manufacturer) if opens else None,
        _tried(lambda: found.product) if opens else None,
        _tried(lambda: found.serial_number) if opens else None,
        _tried(lambda: tuple(_interfaces_of(found))),
        None,
        opens,
        opens,
    )
    _tried(lambda: _let_go(found))
    return made


def _let_go(found: Any) -> None:
    """Close the device: looking must not hold it."""
    from usb.util import dispose_resources

    dispose_resources(found)


def _interfaces_of(found: Any) -> Iterator[UsbInterface]:
    for configuration in found:
        for one in configuration:
            yield UsbInterface(one.bInterfaceClass, one.bInterfaceSubClass, one.bInterfaceProtocol)


def _opens(found: Any) -> bool | None:
    """Whether the device can be opened; reading which configuration is on does no more than that."""
    try:
        found.get_active_configuration()
    except RuntimeError:  # not supported: libusb knows no driver of this device
        return False
    except Exception as error:
        return False if getattr(error, "errno", None) in (13, 2) else None
    return True


def _tried(read: Callable[[], Any]) -> Any:
    try:
        return read()
    except Exception:
        return None
