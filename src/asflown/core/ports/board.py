"""A board as its maker wired it: what is led out where, and what is used on it already."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

#: How a serial port's lines can be turned round.
NO_INVERTER, FIXED_INVERTER = "no", "always"


@dataclass(frozen=True, slots=True)
class SerialPort:
    """A serial port.

    Attributes
    ----------
    name
        As printed on the board or in its manual.
    id
        What settings call it, as in the role ``serial.b.does``.
    unit
        The processor's serial unit.
    tx, rx
        Pins, ``None`` where not led out.
    inverter
        A chip on the board that turns received levels round: ``no``, ``always``, ``switched``.
    most_volts
        The highest level its pads bear, ``None`` where not stated.
    connector
        The plug it is on.
    number
        What settings call it where they number ports.
    """

    name: str
    id: str
    unit: str
    tx: str | None = None
    rx: str | None = None
    inverter: str = NO_INVERTER
    most_volts: float | None = None
    connector: str | None = None
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Output:
    """An output for a motor, a servo or lights.

    Attributes
    ----------
    id
        What settings call it.
    timer
        The timer channel the maker chose, ``None`` where any of the pin's will do.
    """

    name: str
    id: str
    pin: str
    timer: str | None = None
    connector: str | None = None


@dataclass(frozen=True, slots=True)
class Input:
    """An analogue input; ``measures`` is ``voltage``, ``current`` or any."""

    name: str
    pin: str
    measures: str | None = None
    connector: str | None = None


@dataclass(frozen=True, slots=True)
class Bus:
    """A bus led out: unit and its two pins (I2C)."""

    name: str
    unit: str
    clock: str
    data: str
    connector: str | None = None


@dataclass(frozen=True, slots=True)
class Used:
    """A thing on the board that uses pins, units and DMA requests for itself."""

    name: str
    pins: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    dma: tuple[str, ...] = ()


@dataclass(frozen=True)
class Board:
    """A board.

    Attributes
    ----------
    processor
        Name of its processor without package.
    package
        Package letter, ``None`` where not stated.
    pads
        Pin by the pad's printed name.
    kept_flash
        Bytes of flash an image must leave alone: settings and loader.
    """

    name: str
    processor: str
    package: str | None = None
    pads: Mapping[str, str] = field(default_factory=dict)
    serial: tuple[SerialPort, ...] = ()
    outputs: tuple[Output, ...] = ()
    inputs: tuple[Input, ...] = ()
    buses: tuple[Bus, ...] = ()
    used: tuple[Used, ...] = ()
    kept_flash: int | None = None

    def places(self) -> Iterator[tuple[str, str]]:
        """Kind and name of everything something can be wired to."""
        for kind, found in (
            ("serial port", self.serial),
            ("output", self.outputs),
            ("input", self.inputs),
            ("bus", self.buses),
        ):
            for item in found:
                yield kind, item.name
