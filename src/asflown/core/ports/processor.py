"""What a processor offers: pins and their signals, timers, serial units, and which DMA stream serves what."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

#: Letters before the size: the package, as in STM32F405RG.
_PART = re.compile(r"(?P<line>[A-Z0-9]+?)(?P<package>[A-Z])(?P<size>[A-Z0-9])(?:[A-Z]\d)?")

#: Families whose serial units can turn the level of their own lines round (bits RXINV and TXINV of USART_CR2;
#: reference manuals RM0316, RM0431, RM0440, RM0433; from memory). The others (RM0008, RM0090) cannot.
_TURNS = ("STM32F3", "STM32F7", "STM32G4", "STM32H7")


@dataclass(frozen=True, slots=True)
class Route:
    """A DMA stream or channel that can serve a request, and how it is told to."""

    lane: str
    select: str = ""


@dataclass(frozen=True)
class Processor:
    """One processor, whatever its package.

    Attributes
    ----------
    name
        Part name without package, e.g. ``STM32F407xG``.
    source
        Where the table is from.
    flash
        Bytes.
    packages
        Pins of each package, by its letter.
    timers
        Kind by timer: basic, general-purpose, advanced.
    serial
        Serial units.
    pins
        Pin to signal to how it is selected (``AF7``; ``remap 1 3``; empty: by itself).
    routes
        Request to the DMA streams or channels that can serve it. Where a request multiplexer stands before
        them there are none: `behind` says which group of streams it is.
    behind
        Request to the group whose streams it can have, any of them.
    groups
        Streams of each group.
    """

    name: str
    source: str
    flash: int
    packages: Mapping[str, frozenset[str]]
    timers: Mapping[str, str]
    serial: tuple[str, ...]
    pins: Mapping[str, Mapping[str, str]]
    routes: Mapping[str, tuple[Route, ...]]
    behind: Mapping[str, str] = field(default_factory=dict)
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    lane_word: str = "stream"

    @cached_property
    def pins_by_signal(self) -> Mapping[str, tuple[str, ...]]:
        """Pins that can carry a signal."""
        found: dict[str, list[str]] = {}
        for pin, signals in self.pins.items():
            for signal in signals:
                found.setdefault(signal, []).append(pin)
        return {signal: tuple(pins) for signal, pins in found.items()}

    @property
    def turns_levels(self) -> bool:
        """Whether a serial unit can invert its own lines."""
        return self.name.startswith(_TURNS)

    def has_request(self, request: str) -> bool:
        """Whether the request exists."""
        return request in self.routes or request in self.behind

    def lanes_of(self, request: str) -> tuple[str, ...]:
        """The streams or channels that can serve a request with fixed routes, each once."""
        return tuple(dict.fromkeys(route.lane for route in self.routes.get(request, ())))


def split(part: str) -> tuple[str, str | None]:
    """A part without its package, and the package's letter: ``STM32F405RG`` is ``STM32F405xG``, ``R``."""
    said = part.strip().upper()
    if re.fullmatch(r"[A-Z0-9]+X[A-Z0-9]", said):
        return f"{said[:-2]}x{said[-1]}", None
    match = _PART.fullmatch(said)
    if match is None:
        return part.strip(), None
    return f"{match['line']}x{match['size']}", match["package"]


def lane_said(lane: str) -> str:
    """``DMA2 S5`` in words: stream 5 of controller 2."""
    match = re.fullmatch(r"(B?)DMA(\d*) ([SC])(\d+)", lane)
    if match is None:
        return lane
    word = "stream" if match[3] == "S" else "channel"
    controller = "the basic controller" if match[1] else f"controller {match[2] or 1}"
    return f"{word} {match[4]} of {controller}"
