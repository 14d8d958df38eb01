"""Why a board is seen or not, and what to do: the machine's devices and ports, explained.

What systems ask of a person (groups, udev, WinUSB) is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from asflown.core.load.host import HostSeen, SerialPort, UsbDevice, said

#: Where a rule of our own is put; the number makes it come before the one that hands out access.
RULE_FILE = "/etc/udev/rules.d/60-asflown-dfu.rules"
_RELOAD = "sudo udevadm control --reload-rules"

SAFE = "propellers off and the flight pack unplugged: the board is powered by USB alone"
BY_BUTTON = (
    "hold the boot button while plugging in USB, or bridge the boot pads with tweezers or a wire while"
    " plugging in; let go after two seconds"
)
BY_SERIAL = (
    "without USB on the board: set its boot pin as above, then a USB serial adapter of 3.3 V level: its TX to"
    " RX, its RX to TX, GND to GND; power from USB alone, propellers off, pack unplugged"
)
OTHER_CABLE = (
    "a cable without data lines shows nothing: try another cable, then another port of the machine, without"
    " a hub"
)


class Standing(StrEnum):
    """How a finding stands."""

    READY = "ready"
    IN_THE_WAY = "in the way"
    SEEN = "seen"


@dataclass(frozen=True, slots=True)
class HostFinding:
    """One thing that explains what is seen or not.

    Attributes
    ----------
    subject
        The device, port or system it is about.
    statement
        The fact.
    ways_out
        What can be done, best first.
    """

    subject: str
    standing: Standing
    statement: str
    ways_out: tuple[str, ...] = ()

    @property
    def stands_in_the_way(self) -> bool:
        """Whether a person must do something first."""
        return self.standing is Standing.IN_THE_WAY


def rule_for(device: UsbDevice) -> str:
    """The udev rule that gives the person at the machine access to such a device."""
    ids = f'ATTR{{idVendor}}=="{device.vendor:04x}", ATTR{{idProduct}}=="{device.product:04x}"'
    return f'SUBSYSTEM=="usb", {ids}, MODE="0660", TAG+="uaccess"'


def explained(seen: HostSeen) -> tuple[HostFinding, ...]:
    """What is ready, what stands in the way, and what to do; at least one finding."""
    loaders = [device for device in seen.usb or () if device.takes_firmware]
    findings = [_loader(device, seen) for device in loaders]
    findings += [_port(port, seen) for port in seen.ports or ()]
    if not loaders:
        findings += _no_loader(seen)
    if not seen.ports and any(device.is_serial for device in seen.usb or ()):
        findings.append(_no_port_of_it(seen))
    return tuple(sorted(findings, key=lambda finding: list(Standing).index(finding.standing)))


def _loader(device: UsbDevice, seen: HostSeen) -> HostFinding:
    kind = "the processor's own boot loader" if device.is_rom else "a boot loader of its maker's"
    may = device.readable is not False and device.writable
    if may:
        return HostFinding(
            said(device), Standing.READY, f"in DFU mode ({kind}), and this user may write to it"
        )
    if seen.platform == "win32":
        return _without_winusb(device, kind)
    if device.writable is None:
        statement = f"in DFU mode ({kind}); whether this user may write to it could not be read"
        return HostFinding(
            said(device), Standing.SEEN, statement, ("try to load: what the device answers is told then",)
        )
    where = f" ({device.node})" if device.node else ""
    statement = f"in DFU mode ({kind}), but this user may not write to it{where}"
    ways = _rule_ways(device, seen) if seen.platform == "linux" else ("close what else may hold it",)
    return HostFinding(said(device), Standing.IN_THE_WAY, statement, ways)


def _without_winusb(device: UsbDevice, kind: str) -> HostFinding:
    state = "it cannot be opened" if device.writable is False else "whether it can be opened is not known"
    return HostFinding(
        said(device),
        Standing.SEEN if device.writable is None else Standing.IN_THE_WAY,
        f"in DFU mode ({kind}); {state}: Windows lets programs open such a device through its WinUSB driver"
        " alone",
        (
            f"in the device manager find {device.ids}: Update driver, Browse my computer, Let me pick from a"
            ' list; class "Universal Serial Bus devices" (USBDevice), model "WinUsb Device"; then look again',
        ),
    )


def _rule_ways(device: UsbDevice, seen: HostSeen) -> tuple[str, ...]:
    covering = [rule.file for rule in seen.rules or () if rule.covers(device)]
    again = "unplug the board and bring it into its boot loader again"
    if covering:
        return (
            f"{covering[0]} has a rule for it; have it read: {_RELOAD}; then {again}",
            "logged in over the network, a rule with uaccess gives nothing: it needs a group this user is in",
        )
    rules = "" if seen.rules is not None else " (whether there is one already could not be read)"
    return (
        f"put this line into a new file {RULE_FILE}, as administrator{rules}:",
        rule_for(device),
        f"have it read: {_RELOAD}; then {again}",
        'logged in over the network uaccess gives nothing: add GROUP="plugdev" to the line, and join plugdev',
    )


def _port(port: SerialPort, seen: HostSeen) -> HostFinding:
    subject = f"serial port {port.device}" + (f" ({port.description})" if port.description else "")
    if port.held_by:
        programs = ", ".join(f"{one.name} (process {one.pid})" for one in port.held_by)
        first = port.held_by[0]
        ways = (f"close {first.name}, or end process {first.pid}; then look again",)
        return HostFinding(subject, Standing.IN_THE_WAY, f"another program has it open: {programs}", ways)
    if port.may_open is False:
        return HostFinding(subject, Standing.IN_THE_WAY, *_denied(port, seen))
    device = _device_of(port, seen)
    if port.vendor is None:
        return HostFinding(subject, Standing.SEEN, f"{_opens(port)}; what hangs on it is not known")
    if device is not None and device.is_serial:
        statement = (
            f"{_opens(port)}; a USB serial port by its class (CDC ACM): a board that runs its firmware"
        )
        return HostFinding(subject, Standing.SEEN, f"{statement} shows itself so")
    statement = f"{_opens(port)}; a USB serial adapter, or a board that runs its firmware"
    return HostFinding(
        subject,
        Standing.SEEN,
        f"{statement}. Whether a boot loader listens behind an adapter, only a call can tell",
    )


def _opens(port: SerialPort) -> str:
    return "this user may open it" if port.may_open else "whether this user may open it could not be read"


def _device_of(port: SerialPort, seen: HostSeen) -> UsbDevice | None:
    """The USB device of a port, by vendor and product."""
    ids = port.vendor, port.product
    return next((device for device in seen.usb or () if (device.vendor, device.product) == ids), None)


def _denied(port: SerialPort, seen: HostSeen) -> tuple[str, tuple[str, ...]]:
    if port.group is None:
        return "this user may not open it", ("ask who looks after this machine for access to it",)
    if port.group in (seen.groups or ()):
        what = f"this user may not open it, though in its group {port.group}"
        return what, ("ask who looks after this machine for access to it",)
    statement = f"this user may not open it: it belongs to the group {port.group}"
    if port.group in (seen.groups_next or ()):
        return f"{statement}, which this session began without", ("log out and in again",)
    return statement, (f'join the group: sudo usermod -aG {port.group} "$USER"; then log out and in again',)


def _no_loader(seen: HostSeen) -> Iterator[HostFinding]:
    """What explains that no device is in its boot loader."""
    for device in (device for device in seen.usb or () if device.may_take_firmware):
        says = "says it can be brought into DFU mode by a request; much that is no board says so too"
        yield HostFinding(said(device), Standing.SEEN, says)
    running = [device for device in seen.usb or () if device.is_serial]
    usb_ports = [port for port in seen.ports or () if port.vendor is not None]
    ways = (f"{SAFE}; then {BY_BUTTON}", BY_SERIAL)
    if running or usb_ports:
        first = said(running[0]) if running else f"serial port {usb_ports[0].device}"
        yield HostFinding(
            "boot loader",
            Standing.IN_THE_WAY,
            f"no device is in its boot loader. {first} shows itself as a serial port: if it is the board, it"
            " runs its firmware and has to be brought into its boot loader first",
            ways,
        )
    elif seen.usb is None:
        yield HostFinding(
            "USB",
            Standing.IN_THE_WAY,
            "what is plugged in by USB cannot be listed here, so a board cannot be seen",
            ("look at what could not be read; in a container or a virtual machine, hand USB through to it",),
        )
    else:
        count = len(seen.usb)
        there = f"{count} USB device{'s are' if count != 1 else ' is'} there, none in its boot loader"
        serial = "no USB serial port" if seen.ports is not None else "serial ports could not be listed"
        yield HostFinding(
            "USB", Standing.IN_THE_WAY, f"no board is seen: {there}, and {serial}", (OTHER_CABLE, *ways)
        )


def _no_port_of_it(seen: HostSeen) -> HostFinding:
    device = next(device for device in seen.usb or () if device.is_serial)
    drivers = "no driver has taken it" if device.drivers == () else "no serial port of it is listed"
    return HostFinding(
        said(device),
        Standing.SEEN,
        f"a serial port by its class (CDC ACM), but {drivers}",
        ("unplug it and plug it in again; in a container, hand the port through to it",),
    )
