"""Aircraft descriptions (TOML)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from asflown.core.aircraft import Aircraft, Battery, FittedDevice, Motors, Propellers
from asflown.core.ports.needs import SerialNeed
from asflown.formats.functions_toml import serial_need
from asflown.formats.hand_written import checked, load_toml, toml_lines
from asflown.formats.notes import toml_text

if TYPE_CHECKING:
    from asflown.formats.schemas import DeviceTable

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
    del tree["device"]
    devices = tuple(_device(item) for item in written.device)
    tables = {word: kind(**tree.pop(word)) for word, kind in _TABLES.items()}
    return Aircraft(**tree, **tables, devices=devices)


def _device(written: DeviceTable) -> FittedDevice:
    said: dict[str, Any] = written.model_dump(exclude={"serial", "speaks"})
    need = None if written.serial is None else serial_need(written.serial)
    return FittedDevice(**said, speaks=tuple(written.speaks), serial=need)


def write(aircraft: Aircraft) -> bytes:
    """Write a description with every key, the unstated ones as comments; it reads back equal."""
    own = ("id", "title", "board", "release", "mass_kg", "owner", "remarks")
    lines = [*_keys({name: getattr(aircraft, name) for name in own})]
    for word in _TABLES:
        table = getattr(aircraft, word)
        lines += ["", f"[{word}]", *_keys({f.name: getattr(table, f.name) for f in fields(table)})]
    for device in aircraft.devices:
        lines += ["", "[[device]]", *_device_lines(device)]
    if not aircraft.devices:
        lines += ["", "# [[device]]", '# name = "escs"', '# kind = "speed controller"']
    return ("\n".join(lines) + "\n").encode()


def _device_lines(device: FittedDevice) -> Iterator[str]:
    """The keys of one device; those a description rarely has only where they say something."""
    usual = ("name", "kind", "model", "version", "port")
    yield from _keys({name: getattr(device, name) for name in usual})
    if device.speaks:
        yield f"speaks = [{', '.join(toml_text(word) for word in device.speaks)}]"
    yield from _keys(
        {name: getattr(device, name) for name in ("volts", "outputs") if getattr(device, name) is not None}
    )
    if device.serial is not None:
        yield f"serial = {{ {', '.join(_serial_words(device.serial))} }}"


def _serial_words(need: SerialNeed) -> Iterator[str]:
    if need.least_baud is not None:
        least, most = need.least_baud, need.most_baud
        yield f"baud = {least}" if least == most else f"baud = [{least}, {most}]"
    for name in ("inverted", "half_duplex", "to_device", "from_device"):
        value = getattr(need, name)
        if value is not None:
            yield f"{name} = {'true' if value else 'false'}"
    if need.dma is not None:
        yield f'dma = "{need.dma}"'


def _keys(items: dict[str, Any]) -> Iterator[str]:
    for name, value in items.items():
        says = f"  # {_SAYS[name]}" if name in _SAYS else ""
        if value is None:
            yield f"# {name} ={says or '  # not stated'}"
        else:
            yield f"{name} = {toml_text(value) if isinstance(value, str) else repr(value)}{says}"
