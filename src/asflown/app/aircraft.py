"""Describe aircraft: new, changed by a file or fact by fact; every revision stays."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from asflown.app import kept
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft, FittedDevice
from asflown.errors import Fault, InputError, UsageError
from asflown.formats import documents

_DEVICE = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def _text(said: str) -> str:
    return said


def _count(said: str) -> int:
    if not said.isdecimal() or int(said) == 0:
        raise ValueError("a whole number above 0 is wanted")
    return int(said)


def _measure(said: str) -> float:
    import math

    try:
        value = float(said)
    except ValueError:
        raise ValueError("a number is wanted") from None
    if not math.isfinite(value) or value <= 0:
        raise ValueError("a number above 0 is wanted")
    return value


#: Every fact that can be said as KEY=VALUE, with what it is.
FACTS: Mapping[str, tuple[Callable[[str], Any], str]] = {
    "title": (_text, "what it is called"),
    "board": (_text, "flight-controller board"),
    "release": (_text, "release it has now, e.g. marram-4.1"),
    "mass_kg": (_measure, "all-up mass with the usual pack, kg"),
    "motors.count": (_count, "number of motors"),
    "motors.layout": (_text, "layout, e.g. quad x"),
    "motors.model": (_text, "motor model"),
    "motors.poles": (_count, "magnet poles"),
    "propellers.diameter_m": (_measure, "propeller diameter, m"),
    "propellers.pitch_m": (_measure, "propeller pitch, m"),
    "propellers.blades": (_count, "blades"),
    "propellers.model": (_text, "propeller model"),
    "battery.cells": (_count, "cells in series"),
    "battery.capacity_ah": (_measure, "capacity, Ah"),
    "battery.chemistry": (_text, "chemistry"),
    "owner": (_text, "owner"),
    "remarks": (_text, "remarks"),
}

#: Facts of a fitted device, said as ``device.NAME.FACT=VALUE``.
DEVICE_FACTS = ("kind", "model", "version", "port")

#: What `asflown aircraft new` asks at a terminal, in this order.
ASKED = ("title", "board", "release", "mass_kg", "motors.count", "motors.layout", "battery.cells")


@dataclass(frozen=True)
class Described:
    """An aircraft as it is kept now.

    Attributes
    ----------
    changed
        Facts that read otherwise than before, as ``name: was -> is``.
    """

    aircraft: Aircraft
    changed: tuple[str, ...]


def check_id(id: str) -> str:
    """An identifier that can be typed and can name a logbook.

    Raises
    ------
    UsageError
        When it is none.
    """
    if not _ID.fullmatch(id) or len(id) > 40 or id == kept.RELEASES:
        raise UsageError(
            f"{id!r} cannot be an aircraft's short name",
            next_step="use lower case letters, digits and hyphens, at most 40, e.g. plover or club-quad-3",
        )
    return id


def from_file(data: bytes, name: str) -> Aircraft:
    """An aircraft description as a person wrote it (TOML); raises `InputError` with every fault."""
    from asflown.formats import aircraft_toml

    return aircraft_toml.read(data, name)


def new_aircraft(work: Workplace, aircraft: Aircraft) -> Described:
    """Keep a new aircraft and make it the current one.

    Raises
    ------
    UsageError
        When there is one of that name.
    """
    check_id(aircraft.id)
    if work.store.document("aircraft", aircraft.id) is not None:
        raise UsageError(
            f"there is an aircraft {aircraft.id!r} already",
            next_step=f"change it: asflown aircraft edit {aircraft.id}; or choose another name",
        )
    with work.store.transaction() as tx:
        document = tx.put("aircraft", aircraft.id, documents.dump(aircraft), expect=0)
        body = {"what": "described", "id": aircraft.id, "title": aircraft.title, "sha256": document.sha256}
        tx.log(aircraft.id, "aircraft", body)
    use(work, aircraft.id)
    return Described(aircraft, ())


def edit_aircraft(work: Workplace, id: str, change: Callable[[Aircraft], Aircraft]) -> Described:
    """Change an aircraft; the revision before stays, and the logbook says what changed."""
    before, document = kept.aircraft_with_document(work.store, id)
    after = change(before)
    if after.id != id:
        raise InputError(
            f"the file describes {after.id!r}, not {id!r}", next_step="a short name cannot be changed"
        )
    changed = changes(before, after)
    if changed:
        with work.store.transaction() as tx:
            put = tx.put("aircraft", id, documents.dump(after), expect=document.revision)
            body = {"what": "changed", "id": id, "changed": list(changed), "sha256": put.sha256}
            tx.log(id, "aircraft", body)
    return Described(after, changed)


def use(work: Workplace, id: str) -> Aircraft:
    """Make an aircraft the current one."""
    aircraft = kept.aircraft(work.store, id)
    work.store.remember(kept.CURRENT, aircraft.id)
    return aircraft


def with_facts(aircraft: Aircraft, facts: Mapping[str, str]) -> Aircraft:
    """The aircraft with facts said as KEY=VALUE; an empty value makes a fact *not stated*.

    Raises
    ------
    InputError
        Naming every fact that is not known or does not do.
    """
    faults: list[Fault] = []
    for key, said in facts.items():
        try:
            aircraft = _with_fact(aircraft, key, said.strip())
        except ValueError as error:
            faults.append(Fault(f"{error}, got {said!r}", key))
    if faults:
        raise InputError(
            "some facts do not do",
            faults=tuple(faults),
            next_step=f"known: {', '.join(FACTS)}, device.NAME.{{{','.join(DEVICE_FACTS)}}}",
        )
    return aircraft


def _with_fact(aircraft: Aircraft, key: str, said: str) -> Aircraft:
    if key.startswith("device."):
        return _with_device(aircraft, key, said)
    if key not in FACTS:
        raise ValueError("no such fact")
    value = FACTS[key][0](said) if said else None
    if key == "title" and value is None:
        raise ValueError("a title is needed")
    part, dot, name = key.partition(".")
    if not dot:
        changed: dict[str, Any] = {key: value}
        return replace(aircraft, **changed)
    whole: dict[str, Any] = {part: replace(getattr(aircraft, part), **{name: value})}
    return replace(aircraft, **whole)


def _with_device(aircraft: Aircraft, key: str, said: str) -> Aircraft:
    _, _, rest = key.partition(".")
    name, _, fact = rest.rpartition(".")
    if not _DEVICE.fullmatch(name) or fact not in DEVICE_FACTS or name == "board":
        raise ValueError("say it as device.NAME.FACT (the board is no fitted device)")
    device = aircraft.device(name) or FittedDevice(name, kind="not stated")
    value: dict[str, Any] = {fact: said or ("not stated" if fact == "kind" else None)}
    changed = replace(device, **value)
    others = [d for d in aircraft.devices if d.name != name]
    place = next((i for i, d in enumerate(aircraft.devices) if d.name == name), len(others))
    return replace(aircraft, devices=(*others[:place], changed, *others[place:]))


def without_device(aircraft: Aircraft, name: str) -> Aircraft:
    """The aircraft without a fitted device.

    Raises
    ------
    UsageError
        When it has none of that name.
    """
    if aircraft.device(name) is None:
        names = ", ".join(device.name for device in aircraft.devices) or "none"
        raise UsageError(f"{aircraft.id} has no device {name!r}", next_step=f"it has: {names}")
    return replace(aircraft, devices=tuple(d for d in aircraft.devices if d.name != name))


def changes(before: Aircraft, after: Aircraft) -> tuple[str, ...]:
    """What reads otherwise, fact by fact."""
    was, now = _flat(before), _flat(after)
    return tuple(
        f"{key}: {was.get(key, 'not stated')} -> {now.get(key, 'not stated')}"
        for key in {**was, **now}
        if was.get(key) != now.get(key)
    )


def _flat(aircraft: Aircraft) -> dict[str, str]:
    facts: dict[str, str] = {}
    for key in FACTS:
        value: Any = aircraft
        for part in key.split("."):
            value = getattr(value, part)
        if value is not None:
            facts[key] = str(value)
    for device in aircraft.devices:
        for fact in DEVICE_FACTS:
            value = getattr(device, fact)
            if value is not None:
                facts[f"device.{device.name}.{fact}"] = str(value)
    return facts
