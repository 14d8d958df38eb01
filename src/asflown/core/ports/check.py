"""Devices, functions and ports held against what the settings say. Needs no solver and no processor table."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from asflown.core.catalog import Consequence, Protocol
from asflown.core.finding import Finding
from asflown.core.ports.asked import Asked
from asflown.core.ports.board import Board, SerialPort
from asflown.core.ports.kinds import KINDS, kind_of
from asflown.core.ports.needs import SerialNeed

SOURCE = "ports"
#: Values by which a setting that names a port or an output says: none.
_NONE = ("0", "")
#: Role of the setting that says which port a kind is on.
PORT_ROLES = {"receiver": "receiver.port", "GNSS receiver": "gnss.port"}


@dataclass(frozen=True)
class Wired:
    """What the check looks at.

    Attributes
    ----------
    settings
        Value by role, as the plan leaves it.
    in_image
        Functions of the image that will be loaded; ``None``: not stated.
    speaks
        By device: the protocols it speaks; not there where not stated.
    """

    board: Board
    things: Sequence[Asked]
    protocols: Sequence[Protocol]
    settings: Mapping[str, str]
    in_image: Collection[str] | None
    speaks: Mapping[str, Collection[str]]


def findings(wired: Wired) -> tuple[Finding, ...]:
    """Everything in which settings, devices and image do not agree; what can hurt first."""
    found = [
        *_shared_places(wired),
        *_ports(wired),
        *_numbered(wired),
        *_spoken(wired),
        *_missing_functions(wired),
        *_outputs(wired),
    ]
    order = list(Consequence)
    return tuple(sorted(found, key=lambda one: order.index(one.consequence)))


def _harm(kind: str) -> Consequence:
    needs = KINDS.get(kind_of(kind))
    return Consequence.SAFETY if needs is not None and needs.critical else Consequence.COMFORT


def _finding(kind: str, subject: str, statement: str, *ways_out: str) -> Finding:
    return Finding(SOURCE, subject, _harm(kind), statement, ways_out)


def _of_value(wired: Wired, value: str) -> tuple[Protocol, ...]:
    return tuple(one for one in wired.protocols if one.port_does == value)


def _at(wired: Wired, place: str) -> tuple[Asked, ...]:
    return tuple(thing for thing in wired.things if thing.place == place)


def _shared_places(wired: Wired) -> Iterator[Finding]:
    alone = {port.name for port in wired.board.serial} | {output.name for output in wired.board.outputs}
    for place in sorted(alone):
        there = _at(wired, place)
        if len(there) > 1:
            kind = next((one.kind for one in there if one.is_critical), there[0].kind)
            names = " and ".join(one.name for one in there)
            yield _finding(
                kind, place, f"{names} are both wired to {place}", f"wire one of them elsewhere ({names})"
            )


def _ports(wired: Wired) -> Iterator[Finding]:
    """Each port: what it is set for, and what is wired to it."""
    set_for: dict[str, list[SerialPort]] = {}
    for port in wired.board.serial:
        value = wired.settings.get(f"serial.{port.id}.does")
        there = _at(wired, port.name)
        if value is None:
            continue
        protocols = _of_value(wired, value)
        kinds = {kind_of(one.device) for one in protocols}
        for kind in kinds:
            set_for.setdefault(kind, []).append(port)
        yield from _mismatched(wired, port, kinds, there)
        yield from _too_fast(wired, port, there, protocols)
    for kind, ports in set_for.items():
        fitted = [thing for thing in wired.things if thing.kind == kind]
        if len(ports) > max(1, len(fitted)):
            names = " and ".join(port.name for port in ports)
            yield _finding(
                kind,
                kind,
                f"{names} are both set for a {kind}, and {len(fitted)} is fitted",
                "set one to nothing",
            )


def _mismatched(
    wired: Wired, port: SerialPort, kinds: Collection[str], there: Sequence[Asked]
) -> Iterator[Finding]:
    for kind in sorted(kinds):
        if any(thing.kind == kind for thing in there):
            continue
        elsewhere = [thing for thing in wired.things if thing.kind == kind]
        if not elsewhere:
            yield _finding(
                kind,
                port.name,
                f"{port.name} is set for a {kind}, and none is described",
                f"describe it, or set {port.name} to nothing",
            )
        elif all(thing.place for thing in elsewhere):
            where = " and ".join(f"{thing.name} is on {thing.place}" for thing in elsewhere)
            yield _finding(
                kind,
                port.name,
                f"{port.name} is set for a {kind}, but {where}",
                f"set {elsewhere[0].place} for it",
                f"move the wire to {port.name}",
            )
    known = {kind_of(one.device) for one in wired.protocols if one.port_does is not None}
    if not kinds:
        for thing in (one for one in there if one.kind in known):
            yield _finding(
                thing.kind,
                port.name,
                f"{thing.name} is wired to {port.name}, which is set for nothing that is known",
                f"set {port.name} for a {thing.kind}",
            )


def _too_fast(
    wired: Wired, port: SerialPort, there: Sequence[Asked], protocols: Sequence[Protocol]
) -> Iterator[Finding]:
    text = wired.settings.get(f"serial.{port.id}.baud")
    if text is None or not text.isdecimal():
        return
    baud = int(text)
    for thing in there:
        if not any(kind_of(one.device) == thing.kind for one in protocols):
            continue
        need = thing.ways[0].needs.serial or SerialNeed()
        least, most = need.least_baud, need.most_baud
        if (least is not None and baud < least) or (most is not None and baud > most):
            asked = f"{least}" if least == most else f"{least} to {most}"
            yield _finding(
                thing.kind,
                port.name,
                f"{port.name} is set to {baud} bit/s, and {thing.name} speaks {asked} bit/s",
                f"set {asked} bit/s",
            )


def _numbered(wired: Wired) -> Iterator[Finding]:
    """Settings that name a port by its number, or by what settings call it."""
    for kind, role in PORT_ROLES.items():
        value = wired.settings.get(role)
        if value is None:
            continue
        port = next((one for one in wired.board.serial if value in (one.id, str(one.number), one.name)), None)
        for thing in wired.things:
            if thing.kind != kind or thing.place is None or (port and thing.place == port.name):
                continue
            missing = "no port" if value in _NONE else f"a port {value!r} that the board has not"
            where = port.name if port else missing
            yield _finding(
                kind,
                thing.name,
                f"the settings look for {thing.name} on {where}, and it is wired to {thing.place}",
                f"set it to {thing.place}",
            )


def _chosen(wired: Wired) -> Iterator[tuple[Asked, Protocol]]:
    """Things with the protocol that the settings choose for their kind."""
    for thing in wired.things:
        for one in wired.protocols:
            chosen = one.role is not None and wired.settings.get(one.role) == one.value
            if chosen and kind_of(one.device) == thing.kind:
                yield thing, one


def _spoken(wired: Wired) -> Iterator[Finding]:
    told: set[str] = set()
    for thing, protocol in _chosen(wired):
        speaks = wired.speaks.get(thing.device)
        if speaks and protocol.name not in speaks and thing.device not in told:
            told.add(thing.device)
            yield _finding(
                thing.kind,
                thing.device,
                f"the settings have {protocol.name!r} for {thing.device}, which speaks"
                f" {', '.join(sorted(speaks))}",
                "choose one that it speaks",
            )


def _missing_functions(wired: Wired) -> Iterator[Finding]:
    if wired.in_image is None:
        return
    told: set[tuple[str, str]] = set()
    for thing, protocol in _needed_functions(wired):
        function = protocol.function
        if function and function not in wired.in_image and (thing.device, function) not in told:
            told.add((thing.device, function))
            yield _finding(
                thing.kind,
                thing.device,
                f"{thing.device} needs the function {function!r}, which is not in the image",
                f"build the image with {function}",
            )


def _needed_functions(wired: Wired) -> Iterator[tuple[Asked, Protocol]]:
    yield from _chosen(wired)
    for port in wired.board.serial:
        value = wired.settings.get(f"serial.{port.id}.does", "")
        for protocol in _of_value(wired, value):
            for thing in _at(wired, port.name):
                if kind_of(protocol.device) == thing.kind and protocol.role is None:
                    yield thing, protocol


def _outputs(wired: Wired) -> Iterator[Finding]:
    """Settings that name outputs: there must be such an output, and each has one user."""
    known = {output.id for output in wired.board.outputs}
    if not known:
        return
    users: dict[str, list[str]] = {}
    for role, value in sorted(wired.settings.items()):
        if not role.endswith(".output") or (value in _NONE and value not in known):
            continue
        users.setdefault(value, []).append(role.removesuffix(".output").replace(".", " "))
        if value not in known:
            what = role.removesuffix(".output").replace(".", " ")
            yield _finding(
                "speed controller" if what.startswith("motor") else what,
                what,
                f"the settings put {what} on output {value}, which the board has not",
                f"outputs there are: {', '.join(sorted(known))}",
            )
    for value, names in users.items():
        if len(names) > 1:
            kind = "speed controller" if any(name.startswith("motor") for name in names) else names[0]
            yield _finding(
                kind,
                f"output {value}",
                f"the settings put {' and '.join(names)} on output {value}",
                "move one",
            )
