"""The host sheet: what this machine shows, what it means for loading an image, and what to do."""

from __future__ import annotations

from typing import Any

from asflown.app.host_check import HostChecked
from asflown.app.views.sheet import Sheet, Table, counted, listed
from asflown.core.load.host import SerialPort, UsbDevice
from asflown.core.load.host_explained import HostFinding, Standing

_MARKS = {Standing.READY: "= ready", Standing.IN_THE_WAY: "! in the way", Standing.SEEN: "· seen"}
_PLATFORMS = {"linux": "Linux", "darwin": "macOS", "win32": "Windows"}


def host_sheet(checked: HostChecked) -> Sheet:
    """What is seen and what it means."""
    seen = checked.seen
    return Sheet(
        title="Host check",
        head=(("system", _PLATFORMS.get(seen.platform, seen.platform)), *_watched(checked)),
        sentence=sentence(checked),
        tables=(
            Table(
                ("about", "stands", "what was found"),
                tuple((f.subject, _MARKS[f.standing], f.statement) for f in checked.findings),
                under=tuple(f.ways_out for f in checked.findings),
            ),
            Table(
                ("USB device", "at", "says", "may be written", "driver"),
                tuple(map(_device_row, seen.usb or ())),
                title="USB devices, hubs left out",
                empty="none" if seen.usb is not None else "unknown: they could not be listed",
            ),
            Table(
                ("serial port", "says", "may be opened", "group", "held by"),
                tuple(map(_port_row, seen.ports or ())),
                title="Serial ports",
                empty="none" if seen.ports is not None else "unknown: they could not be listed",
            ),
        ),
        notes=(
            *(f"Unknown: {what}." for what in seen.unknown),
            "What is written to a board is checked before: asflown image check IMAGE --board BOARD",
        ),
        next_act=_next(checked),
    )


def _watched(checked: HostChecked) -> tuple[tuple[str, str], ...]:
    if checked.appeared is None:
        return ()
    return (
        ("waited", f"{checked.waited or 0:.0f} s"),
        ("appeared", listed(checked.appeared) or "nothing new"),
    )


def sentence(checked: HostChecked) -> str:
    """Where things stand."""
    ready = [f for f in checked.findings if f.standing is Standing.READY]
    waiting = [f for f in checked.findings if f.stands_in_the_way]
    if checked.appeared is None:
        new = ""
    elif checked.appeared:
        new = f"Appeared: {listed(checked.appeared)}. "
    else:
        new = f"Nothing new appeared in {checked.waited or 0:.0f} s. "
    if len(ready) > 1:
        return f"{new}{len(ready)} devices are ready to be written to: leave one plugged in."
    if ready:
        return f"{new}{ready[0].subject} is ready to be written to."
    if waiting:
        return f"{new}Nothing is ready to be written to; {counted(len(waiting), 'thing')} in the way."
    return f"{new}Nothing is known to be ready to be written to."


def _device_row(device: UsbDevice) -> tuple[str, ...]:
    words = " ".join(word for word in (device.ids, device.maker, device.name) if word)
    kinds = {f"{i.base:02X}/{i.sub:02X}/{i.protocol:02X}": None for i in device.interfaces or ()}
    drivers = "unknown" if device.drivers is None else listed(device.drivers) or "none"
    return words, device.place, listed(kinds) or "unknown", _known(device.writable), drivers


def _port_row(port: SerialPort) -> tuple[str, ...]:
    holders = listed(f"{one.name} ({one.pid})" for one in port.held_by) or "none seen"
    return port.device, port.description or "nothing", _known(port.may_open), port.group or "unknown", holders


def _known(may: bool | None) -> str:
    return {True: "yes", False: "no", None: "unknown"}[may]


def _next(checked: HostChecked) -> tuple[str, ...]:
    if checked.is_ready:
        return ("check the image: asflown image check IMAGE --board BOARD",)
    first = next((_first_way(f) for f in checked.findings if f.stands_in_the_way and f.ways_out), None)
    look = "plug it in while asflown looks: asflown host-check --watch 60"
    return (*((first,) if first else ()), *((look,) if checked.seen.usb is not None else ()))


def _first_way(finding: HostFinding) -> str:
    """The best way out, with the line it announces."""
    first, *more = finding.ways_out
    return f"{first} {more[0]}" if first.endswith(":") and more else first


def host_json(checked: HostChecked) -> dict[str, Any]:
    """What is seen and what it means, as JSON."""
    seen = checked.seen
    return {
        "ready": checked.is_ready,
        "findings": [_finding_json(finding) for finding in checked.findings],
        "platform": seen.platform,
        "groups": None if seen.groups is None else list(seen.groups),
        "groups_next": None if seen.groups_next is None else list(seen.groups_next),
        "usb": None if seen.usb is None else [_device_json(device) for device in seen.usb],
        "ports": None if seen.ports is None else [_port_json(port) for port in seen.ports],
        "rules": None if seen.rules is None else [{"file": r.file, "text": r.text} for r in seen.rules],
        "unknown": list(seen.unknown),
        "appeared": None if checked.appeared is None else list(checked.appeared),
        "waited": checked.waited,
    }


def _finding_json(finding: HostFinding) -> dict[str, Any]:
    return {
        "subject": finding.subject,
        "standing": finding.standing.value,
        "statement": finding.statement,
        "ways_out": list(finding.ways_out),
        "stands_in_the_way": finding.stands_in_the_way,
    }


def _device_json(device: UsbDevice) -> dict[str, Any]:
    return {
        "vendor": device.vendor,
        "product": device.product,
        "place": device.place,
        "maker": device.maker,
        "name": device.name,
        "serial": device.serial,
        "interfaces": None
        if device.interfaces is None
        else [[i.base, i.sub, i.protocol] for i in device.interfaces],
        "node": device.node,
        "readable": device.readable,
        "writable": device.writable,
        "drivers": None if device.drivers is None else list(device.drivers),
        "takes_firmware": device.takes_firmware,
    }


def _port_json(port: SerialPort) -> dict[str, Any]:
    return {
        "device": port.device,
        "description": port.description,
        "vendor": port.vendor,
        "product": port.product,
        "may_open": port.may_open,
        "group": port.group,
        "held_by": [{"pid": one.pid, "name": one.name} for one in port.held_by],
    }
