"""What a board is made of: flash map, ports, timers, DMA; and what devices need of them. Types only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class FlashSector:
    """One sector that is erased as a whole: start address and size in bytes."""

    start: int
    size: int
    holds: str | None = None

    @property
    def end(self) -> int:
        """First address after it."""
        return self.start + self.size


@dataclass(frozen=True)
class FlashMap:
    """A processor's flash; sectors in address order without overlap.

    Raises
    ------
    ValueError
        When sectors overlap or are out of order.
    """

    processor: str
    sectors: tuple[FlashSector, ...]
    source: str = ""

    def __post_init__(self) -> None:
        for before, after in zip(self.sectors, self.sectors[1:], strict=False):
            if after.start < before.end:
                raise ValueError(f"sectors at {before.start:#010x} and {after.start:#010x} overlap")

    @property
    def size(self) -> int:
        """Bytes of flash."""
        return sum(sector.size for sector in self.sectors)


class NeedKind(StrEnum):
    """What a device or a function can need of a board."""

    SERIAL = "serial port"
    TIMER_CHANNEL = "timer channel"
    DMA = "DMA stream"
    BUS = "I2C or SPI bus"
    PIN = "pin"
    FLASH = "flash"


@dataclass(frozen=True, slots=True)
class HardwareNeed:
    """One need of a fitted device or an optional function.

    Attributes
    ----------
    least_baud, most_baud
        Of a serial port, bit/s.
    is_optional
        Better with it, works without (DMA on a slow port).
    amount
        Bytes of flash, or how many channels of one group.
    """

    kind: NeedKind
    least_baud: int | None = None
    most_baud: int | None = None
    half_duplex: bool = False
    inverted: bool = False
    receive_only: bool = False
    is_optional: bool = False
    amount: int = 1
