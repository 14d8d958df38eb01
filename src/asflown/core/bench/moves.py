"""What sits elsewhere after a refit than before: devices rewired, ports and outputs given other work."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from asflown.core.aircraft import Aircraft
from asflown.core.catalog import Catalog
from asflown.core.record import Key
from asflown.core.roles import choice_of, texts_by_role
from asflown.core.values import number

#: Roles that say what a port does, where a device sits, or which output a thing has.
_PORT = re.compile(r"serial\.(?P<id>[^.]+)\.does|(?P<thing>.+)\.(?:port|output)")


@dataclass(frozen=True, slots=True)
class Move:
    """One thing that sits elsewhere.

    Attributes
    ----------
    subject
        The device, or the port.
    settings
        Settings that say where it sits now; empty for a wire that was moved.
    is_wire
        Whether a person moved a wire, by the aircraft's description.
    """

    subject: str
    was: str
    now: str
    settings: tuple[str, ...] = ()
    is_wire: bool = False


def rewired(before: Aircraft, after: Aircraft) -> tuple[Move, ...]:
    """Devices whose port in the aircraft's description is another one, that came, or that went."""
    first = {device.name: device for device in before.devices}
    second = {device.name: device for device in after.devices}
    made = []
    for name in dict.fromkeys((*first, *second)):
        was = first[name].port or "not stated" if name in first else "not fitted"
        now = second[name].port or "not stated" if name in second else "not fitted"
        if was != now:
            made.append(Move(name, was, now, is_wire=True))
    return tuple(made)


def retasked(
    found: Mapping[Key, str], old: Catalog, planned: Mapping[Key, str], new: Catalog
) -> tuple[Move, ...]:
    """Ports and outputs that do other work by the settings than they did.

    Parameters
    ----------
    found, planned
        Settings before and after.

    Notes
    -----
    What a number means is told by each release's own words for it; where only one of both has words, the
    numbers are compared. A port that only one of both speaks of is told too.
    """
    before, after = dict(_tasks(found, old)), dict(_tasks(planned, new))
    made = []
    for role in sorted({*before, *after}):
        was, now = before.get(role), after.get(role)
        match = _PORT.fullmatch(role)
        if match is None or (was is None or now is None) or _is_same(was, now):
            continue
        subject = f"port {match['id']}" if match["id"] else match["thing"].replace(".", " ")
        made.append(Move(subject, was.said, now.said, now.names))
    return tuple(made)


@dataclass(frozen=True, slots=True)
class _Task:
    value: str
    label: str | None
    names: tuple[str, ...]

    @property
    def said(self) -> str:
        """The number, with what it means."""
        return f"{self.value} ({self.label})" if self.label else self.value


def _is_same(was: _Task, now: _Task) -> bool:
    if was.label is not None and now.label is not None:
        return _folded(was.label) == _folded(now.label)
    first, second = number(was.value), number(now.value)
    return was.value == now.value if first is None or second is None else first == second


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def _tasks(values: Mapping[Key, str], catalog: Catalog) -> Iterator[tuple[str, _Task]]:
    for role, told in texts_by_role(values, catalog).items():
        if _PORT.fullmatch(role) is None or len({text for _, text in told.texts}) != 1:
            continue
        parameter, text = told.texts[0]
        choice = choice_of(parameter, text)
        yield (
            role,
            _Task(
                text,
                choice.label if choice else None,
                tuple(dict.fromkeys(one.name for one, _ in told.texts)),
            ),
        )
