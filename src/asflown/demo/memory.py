"""What a board holds: each setting at the device's own precision, with its own rules of what it takes."""

from __future__ import annotations

import re
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from asflown.core.record import Key
from asflown.demo.firmware.parameter import Parameter
from asflown.demo.firmware.releases import Firmware

_TYPED = re.compile(r"-?[0-9]{1,20}(\.[0-9]{1,20})?")
Cell = int | float | str


class Fate(StrEnum):
    """What became of a typed value."""

    TAKEN = "taken"
    HELD = "held at the nearest"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Took:
    """The answer to one typed value.

    Attributes
    ----------
    says
        The firmware's words where it complains; empty where it took the value as typed.
    """

    fate: Fate
    says: str = ""


def single(value: float) -> float:
    """A number as a 32-bit float holds it (IEEE 754 binary32)."""
    held: float = struct.unpack("<f", struct.pack("<f", value))[0]
    return held


def cell_of(parameter: Parameter, text: str) -> Cell:
    """A value as the memory holds it: a 32-bit float, a whole number, or a word."""
    if parameter.type == "word":
        return text
    return single(float(text)) if parameter.is_float else int(text)


def shown(parameter: Parameter, cell: Cell) -> str:
    """A cell as the terminal prints it."""
    return f"{cell:.{parameter.decimals}f}" if parameter.is_float else str(cell)


class Memory:
    """The settings of one release: what is in use now, and what is stored.

    Attributes
    ----------
    firmware
        The release whose image is loaded.
    """

    def __init__(self, firmware: Firmware) -> None:
        self.firmware = firmware
        self._counted: dict[str, Cell] = {}
        self._now: dict[Key, Cell] = {}
        self._stored: dict[Key, Cell] = {}
        self.erase()

    def erase(self) -> None:
        """Every setting to its factory value, in use and stored; counters the device keeps stay."""
        self._now = {key: self._factory(key, text) for key, text in self.firmware.factory.items()}
        self._stored = dict(self._now)

    def _factory(self, key: Key, text: str) -> Cell:
        parameter = self.firmware.by_name[key.name]
        counted = self._counted.get(key.name) if parameter.volatile else None
        return cell_of(parameter, text) if counted is None else counted

    def load(self, firmware: Firmware) -> None:
        """Another image: its settings are at factory."""
        self.firmware = firmware
        self.erase()

    def store(self) -> None:
        """Keep what is in use."""
        self._stored = dict(self._now)

    def restart(self) -> None:
        """Back to what is stored."""
        self._now = dict(self._stored)

    @property
    def unsaved(self) -> tuple[Key, ...]:
        """Settings that a restart would lose."""
        return tuple(key for key, cell in self._now.items() if self._stored[key] != cell)

    def values(self) -> Mapping[Key, str]:
        """Every setting as printed, in listing order."""
        return {key: shown(self.firmware.by_name[key.name], cell) for key, cell in self._now.items()}

    def has(self, key: Key) -> bool:
        """Whether the release has such a setting."""
        return key in self._now

    def put(self, values: Mapping[Key, str]) -> None:
        """Set and store values past every rule: how an aircraft comes to be as it is found.

        Raises
        ------
        KeyError
            When the release has no such setting.
        """
        for key, text in values.items():
            if key not in self._now:
                raise KeyError(str(key))
            parameter = self.firmware.by_name[key.name]
            self._now[key] = self._stored[key] = cell_of(parameter, text)
            if parameter.volatile:
                self._counted[key.name] = self._now[key]

    def take(self, key: Key, text: str) -> Took:
        """A typed value: taken, held at the nearest allowed, or refused. Refusing changes nothing."""
        parameter = self.firmware.by_name[key.name]
        if parameter.read_only:
            return Took(Fate.REFUSED, "is only shown")
        if parameter.type == "word":
            return self._word(parameter, key, text)
        if not _TYPED.fullmatch(text):
            return Took(Fate.REFUSED, f"takes a number, not '{text[:20]}'")
        number = Decimal(text)
        if not parameter.is_float and number != number.to_integral_value():
            return Took(Fate.REFUSED, f"takes whole numbers, not {text}")
        missing = self._asked(parameter, key, number)
        if missing:
            return Took(Fate.REFUSED, missing)
        return self._ranged(parameter, key, number)

    def _word(self, parameter: Parameter, key: Key, text: str) -> Took:
        if text not in parameter.choices:
            return Took(Fate.REFUSED, f"takes {' or '.join(parameter.choices)}")
        self._now[key] = text
        return Took(Fate.TAKEN)

    def _ranged(self, parameter: Parameter, key: Key, number: Decimal) -> Took:
        low, high = parameter.low, parameter.high
        allowed = low <= number <= high or str(number) in parameter.plain
        if not allowed and not parameter.clips:
            return Took(Fate.REFUSED, f"takes {low} to {high}")
        held = number if allowed else min(max(number, low), high)
        self._now[key] = cell_of(parameter, f"{held:f}" if parameter.is_float else str(int(held)))
        if allowed:
            return Took(Fate.TAKEN)
        return Took(Fate.HELD, f"held at {shown(parameter, self._now[key])}")

    def _asked(self, parameter: Parameter, key: Key, number: Decimal) -> str:
        """What another setting still lacks; empty where nothing."""
        for word, name in parameter.asks:
            cell = self._now.get(Key(name, key.bank), self._now.get(Key(name)))
            if cell is None or isinstance(cell, str):
                continue
            if word == "on" and number != 0 and cell == 0:
                return f"waits for {name}"
            if word == "over" and number <= Decimal(cell):
                return f"must be more than {name}"
        return ""
