"""Aircraft descriptions (TOML)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import Any

from asflown.core.aircraft import Aircraft, Battery, FittedDevice, Motors, Propellers
from asflown.formats.hand_written import checked, load_toml, toml_lines
from asflown.formats.notes import toml_text

_TABLES = {"motors": Motors, "propellers": Propellers, "battery": Battery}
_SAYS = {
    "id": "short name for the command line",
    "mass_kg": "all-up, with the usual pack",
    "count": "number",
    "layout": "e.g. quad X",
    "poles": "magnets of one motor",
    "diameter_m": "metres; 1 in = 0.0254 m",
    "pitch_m": "metres",
    "cells": "in series",
    "capacity_ah": "ampere hours",
    "version": "of the device's own firmware",
    "port": "where it is wired, in your words",
}


def read(data: bytes, name: str) -> Aircraft:
    """Read an aircraft description.

    Raises
    ------
    InputError
        With every fault and its line.
    """
    from asflown.formats.schemas import AircraftFile

    written = checked(AircraftFile, load_toml(data, name), name, toml_lines(data))
    tree: dict[str, Any] = written.model_dump()
    devices = tuple(FittedDevice(**item) for item in tree.pop("device"))
    tables = {word: kind(**tree.pop(word)) for word, kind in _TABLES.items()}
    return Aircraft(**tree, **tables, devices=devices)


def write(aircraft: Aircraft) -> bytes:
    """Write a description with every key, the unstated ones as comments; it reads back equal."""
    own = ("id", "title", "board", "release", "mass_kg", "owner", "remarks")
    lines = [*_keys({name: getattr(aircraft, name) for name in own})]
    for word in _TABLES:
        table = getattr(aircraft, word)
        lines += ["", f"[{word}]", *_keys({f.name: getattr(table, f.name) for f in fields(table)})]
    for device in aircraft.devices:
        lines += ["", "[[device]]", *_keys({f.name: getattr(device, f.name) for f in fields(device)})]
    if not aircraft.devices:
        lines += ["", "# [[device]]", '# name = "escs"', '# kind = "speed controller"']
    return ("\n".join(lines) + "\n").encode()


def _keys(items: dict[str, Any]) -> Iterator[str]:
    for name, value in items.items():
        says = f"  # {_SAYS[name]}" if name in _SAYS else ""
        if value is None:
            yield f"# {name} ={says or '  # not stated'}"
        else:
            yield f"{name} = {toml_text(value) if isinstance(value, str) else repr(value)}{says}"
