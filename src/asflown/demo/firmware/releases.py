"""The releases of marram as the firmware itself knows them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property

from asflown.core.record import Key
from asflown.demo.firmware import added, changes, facts, settings
from asflown.demo.firmware.changes import MIDDLE, NEW, OLD
from asflown.demo.firmware.parameter import Parameter, with_facts
from asflown.demo.firmware.settings import SETS

__all__ = ["IDS", "SETS", "Firmware", "by_id", "new", "old", "successors"]


@dataclass(frozen=True)
class Firmware:
    """One release.

    Attributes
    ----------
    parameters
        In the order the terminal lists them: those outside sets first.
    """

    id: str
    version: str
    parameters: tuple[Parameter, ...]
    family: str = "marram"

    @cached_property
    def by_name(self) -> Mapping[str, Parameter]:
        """Parameter by name."""
        return {parameter.name: parameter for parameter in self.parameters}

    @cached_property
    def banks(self) -> tuple[str, ...]:
        """The banks it has, in order."""
        return tuple(dict.fromkeys(bank for item in self.parameters for bank in item.banks))

    @cached_property
    def factory(self) -> Mapping[Key, str]:
        """Factory value of every setting, in listing order."""
        plain = [item for item in self.parameters if not item.banks]
        made = {key: item.factory(key) for item in plain for key in item.keys()}
        for bank in self.banks:
            made.update({k: p.factory(k) for p in self.parameters for k in p.keys() if k.bank == bank})
        return made


@cache
def old() -> Firmware:
    """Give marram 4.1, what the aircraft were found with."""
    return Firmware(OLD, "4.1", with_facts(settings.tables(), facts.facts()))


@cache
def new() -> Firmware:
    """Give marram 5.0, what they are to get."""
    moved = _moved(old().parameters)
    redefined = changes.redefined()
    remade = [replace(item, **redefined.get(item.name, {})) for item in moved]
    fresh = with_facts(added.tables(), added.facts())
    groups = list(dict.fromkeys(item.group for item in [*remade, *fresh]))
    groups.sort(key=lambda group: group == "turning")
    parameters = [item for group in groups for item in [*remade, *fresh] if item.group == group]
    return Firmware(NEW, "5.0", tuple(parameters))


def by_id(release: str) -> Firmware:
    """A release by its identifier; the middle one is known by its notes alone.

    Raises
    ------
    KeyError
        For any other.
    """
    return {OLD: old, NEW: new}[release]()


#: Releases that have an identifier here.
IDS = (OLD, MIDDLE, NEW)


def successors() -> Mapping[str, tuple[str, ...]]:
    """Old name to its names in the new release; empty where it is gone."""
    now: dict[str, tuple[str, ...]] = {item.name: (item.name,) for item in old().parameters}
    for change in changes.changes():
        if change.kind not in ("rename", "convert", "split", "merge", "retire"):
            continue
        for name, names in now.items():
            if set(names) & set(change.old):
                now[name] = change.new
    return now


def _moved(parameters: Iterable[Parameter]) -> list[Parameter]:
    """Parameters under their new names, with what they need and depend on renamed too."""
    names = successors()
    made: dict[str, Parameter] = {}
    for item in parameters:
        needs = tuple(name for need in item.needs for name in names[need])
        asks = tuple((word, name) for word, need in item.asks for name in names[need])
        unit_from = next(iter(names[item.unit_from]), None) if item.unit_from else None
        for name in names[item.name]:
            made.setdefault(name, replace(item, name=name, needs=needs, asks=asks, unit_from=unit_from))
    return list(made.values())
