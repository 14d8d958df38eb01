"""What is asked of a board: every fitted device with the ways to talk with it and where it is wired now."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from asflown.core.aircraft import Aircraft, FittedDevice
from asflown.core.catalog import Protocol, Release
from asflown.core.ports.board import Board
from asflown.core.ports.kinds import KINDS, kind_of
from asflown.core.ports.needs import NO, Needs, OutputNeed, SerialNeed

#: The kind whose outputs are the motors, numbered through all devices of it.
_MOTORS = "speed controller"
#: Kinds that are not wired to the board.
_ELSEWHERE = ("transmitter",)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to talk with a device: the protocol, what it needs, the function it needs in the image."""

    protocol: str | None
    needs: Needs
    function: str | None = None

    @property
    def said(self) -> str:
        """The protocol, or that none is stated."""
        return self.protocol or "as its kind usually does"


@dataclass(frozen=True)
class Asked:
    """A device, or one of the things of a device, that needs a place.

    Attributes
    ----------
    name
        What it is called in sentences: ``receiver``, ``motor 3``.
    ways
        The planned way first; the others would be a change.
    place
        Where it is wired now, ``None`` where that is not known: any place will do.
    kept_together
        Things with the same word here must all be talked with in the same way.
    """

    name: str
    device: str
    kind: str
    ways: tuple[Way, ...]
    place: str | None = None
    kept_together: str | None = None
    volts: float | None = None

    @property
    def is_critical(self) -> bool:
        """Whether the aircraft cannot fly safely without it."""
        return self.ways[0].needs.critical


@dataclass(frozen=True)
class AskedFor:
    """Everything asked, and what could not be made of a description.

    Attributes
    ----------
    remarks
        Sentences: what is not known, and so not planned.
    """

    things: tuple[Asked, ...]
    remarks: tuple[str, ...]


def asked_of(
    aircraft: Aircraft,
    board: Board,
    release: Release | None,
    settings: Mapping[str, str],
) -> AskedFor:
    """What an aircraft asks of a board.

    Parameters
    ----------
    settings
        Value by role, as the plan leaves it (or as found): which protocol, which output.
    """
    things: list[Asked] = []
    remarks: list[str] = []
    motors = 0
    for device in aircraft.devices:
        kind = kind_of(device.kind)
        if kind in _ELSEWHERE:
            continue
        ways = _ways(device, kind, release, settings)
        if ways is None:
            remarks.append(
                f"{device.name}: what a {device.kind!r} needs is not known; say it in its description"
                " (serial, outputs)"
            )
            continue
        places, remark = _places(device, board)
        remarks += [text for text in (remark, _not_chosen(device, kind, ways, release)) if text]
        needs = ways[0].needs
        if needs.outputs is None:
            place = places[0] if places else None
            things.append(Asked(device.name, device.name, kind, ways, place, None, device.volts))
            continue
        count = _outputs_of(device, kind, ways, aircraft)
        if count is None:
            remarks.append(
                f"{device.name}: the number of motors is not stated, or no whole part of it for each; say"
                " outputs in its description; its outputs are not planned"
            )
            continue
        things += _on_outputs(
            device, kind, ways, range(motors + 1, motors + count + 1), places, board, settings
        )
        if kind == _MOTORS:
            motors += count
    return AskedFor(tuple(things), tuple(remarks))


def _outputs_of(device: FittedDevice, kind: str, ways: tuple[Way, ...], aircraft: Aircraft) -> int | None:
    """How many outputs a device needs; several speed controllers share the motors evenly."""
    need = ways[0].needs.outputs
    count = device.outputs if device.outputs is not None else need.count if need else None
    if count is not None or aircraft.motors.count is None:
        return count
    controllers = sum(kind_of(one.kind) == kind for one in aircraft.devices)
    each, rest = divmod(aircraft.motors.count, controllers)
    return None if rest else each


def _not_chosen(
    device: FittedDevice, kind: str, ways: tuple[Way, ...], release: Release | None
) -> str | None:
    """That a release has protocols for a device, and nothing says which one is meant."""
    known = [one.name for one in (release.protocols or () if release else ()) if kind_of(one.device) == kind]
    if ways[0].protocol is not None or not known:
        return None
    return (
        f"{device.name}: no setting says which protocol it is talked with in ({', '.join(known)}); it is"
        " planned as its kind usually needs, which may be less"
    )


def _ways(
    device: FittedDevice, kind: str, release: Release | None, settings: Mapping[str, str]
) -> tuple[Way, ...] | None:
    usual = KINDS.get(kind)
    if usual is None and device.serial is None and device.outputs is None:
        return None
    usual = usual or Needs(
        serial=SerialNeed(dma=NO, to_device=True, from_device=True) if device.serial else None,
        outputs=OutputNeed() if device.outputs is not None and device.serial is None else None,
    )
    protocols = [
        one
        for one in (release.protocols if release and release.protocols else ())
        if kind_of(one.device) == kind and (not device.speaks or one.name in device.speaks)
    ]
    chosen = [one for one in protocols if _is_chosen(one, settings)]
    if protocols and not chosen and device.speaks:
        chosen = protocols[:1]
    ordered = [*chosen, *(one for one in protocols if one not in chosen)]
    if not chosen:
        plain = Way(None, _with(usual, device, None))
        return (plain, *(_way(usual, device, one) for one in ordered if kind == _MOTORS))
    return tuple(_way(usual, device, one) for one in ordered)


def _is_chosen(protocol: Protocol, settings: Mapping[str, str]) -> bool:
    if protocol.role is not None:
        return settings.get(protocol.role) == protocol.value
    # without a setting that chooses it, it is the one there is
    return protocol.port_does is None or protocol.port_does in {
        value for role, value in settings.items() if re.fullmatch(r"serial\..+\.does", role)
    }


def _way(usual: Needs, device: FittedDevice, protocol: Protocol) -> Way:
    return Way(protocol.name, _with(usual, device, protocol), protocol.function)


def _with(usual: Needs, device: FittedDevice, protocol: Protocol | None) -> Needs:
    """The usual needs of a kind, then the protocol's, then the device's own word."""
    serial, outputs = usual.serial, usual.outputs
    if serial is not None:
        if protocol is not None and protocol.need is not None:
            serial = protocol.need.over(serial)
        if device.serial is not None:
            serial = device.serial.over(serial)
    if outputs is not None and protocol is not None:
        pace = outputs.pace
        if protocol.update_hz is not None:
            pace = f"{pace} at {protocol.update_hz:g} Hz"
        outputs = replace(outputs, pace=pace, dma=protocol.dma or outputs.dma)
    return replace(usual, serial=serial, outputs=outputs)


# ------------------------------------------------------------------------------------------ places


def _places(device: FittedDevice, board: Board) -> tuple[tuple[str, ...], str | None]:
    """Names of the places a device's own words name, and a remark where they name none."""
    if device.port is None:
        return (), None
    found = places_named(device.port, board)
    if found:
        return found, None
    return (), (
        f"{device.name}: {device.port!r} is no place of the board's description; it is planned as if it were"
        " not wired yet"
    )


def places_named(words: str, board: Board) -> tuple[str, ...]:
    """The places of a board that a person's words name: one, or a row of outputs."""
    said = " ".join(words.casefold().split())
    names = {name.casefold(): name for _, name in board.places()}
    if said in names:
        return (names[said],)
    row = re.fullmatch(r"outputs? (\S+?) ?(?:to|-|…|\.\.) ?(\S+)", said)
    if row:
        return _row(row[1], row[2], [(output.id.casefold(), output.name) for output in board.outputs])
    ids = {port.id.casefold(): port.name for port in board.serial}
    bare = re.fullmatch(r"(?:serial )?(?:port )?(\S+)", said)
    return (ids[bare[1]],) if bare and bare[1] in ids else ()


def _row(first: str, last: str, outputs: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    ids = [id for id, _ in outputs]
    if first not in ids or last not in ids or ids.index(first) > ids.index(last):
        return ()
    return tuple(name for _, name in outputs[ids.index(first) : ids.index(last) + 1])


def _on_outputs(
    device: FittedDevice,
    kind: str,
    ways: tuple[Way, ...],
    numbers: range,
    places: Sequence[str],
    board: Board,
    settings: Mapping[str, str],
) -> Iterable[Asked]:
    """A thing for each output of a device: where settings say which output, there."""
    is_motors = kind == _MOTORS
    slug = {_MOTORS: "motor", "lights": "lights"}.get(kind, device.name)
    by_id = {output.id: output.name for output in board.outputs}
    for at, motor in enumerate(numbers):
        number = f"{motor if is_motors else at + 1}"
        many = is_motors or len(numbers) > 1
        name = f"{'motor' if is_motors else device.name} {number}" if many else device.name
        place = by_id.get(settings.get(f"{slug}.{number}.output" if many else f"{slug}.output", ""))
        if place is None and at < len(places):
            place = places[at]
        yield Asked(
            name, device.name, kind, ways, place, device.name if len(ways) > 1 else None, device.volts
        )
