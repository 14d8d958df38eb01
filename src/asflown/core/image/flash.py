"""The memory an image goes to: flash in sectors, RAM, and what of the flash a board keeps for itself."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True, slots=True)
class Sector:
    """The least piece of flash that can be erased.

    Attributes
    ----------
    number
        As the loaders count it, from 0.
    start, size
        Address and bytes.
    """

    number: int
    start: int
    size: int

    @property
    def end(self) -> int:
        """One more than the last address."""
        return self.start + self.size


@dataclass(frozen=True, slots=True)
class Region:
    """A range of addresses with a name: from ``start`` up to ``end``."""

    name: str
    start: int
    end: int

    def holds(self, address: int) -> bool:
        """Whether the address lies in it."""
        return self.start <= address < self.end

    def meets(self, start: int, end: int) -> bool:
        """Whether any address from ``start`` up to ``end`` lies in it."""
        return start < self.end and self.start < end


@dataclass(frozen=True)
class Flash:
    """What the processor's manual says about its memory.

    Attributes
    ----------
    processor
        Part name without package and temperature, e.g. ``STM32F407xG``.
    sectors
        By address, without gaps.
    ram
        Where a stack may lie.
    interrupts
        Interrupts beside the 16 system vectors; the vector table's alignment follows from it.
    chip_id
        What the ROM loader answers, ``None`` where not known.
    uf2_family
        Family word of UF2 files, ``None`` where not known.
    write_unit
        Bytes that are programmed at a time at least; a write starts at a multiple of it.
    source
        The manual.
    """

    processor: str
    sectors: tuple[Sector, ...]
    ram: tuple[Region, ...]
    interrupts: int
    source: str
    chip_id: int | None = None
    uf2_family: int | None = None
    write_unit: int = 4

    @property
    def start(self) -> int:
        """The lowest flash address."""
        return self.sectors[0].start

    @property
    def end(self) -> int:
        """One more than the highest flash address."""
        return self.sectors[-1].end

    @property
    def size(self) -> int:
        """Bytes of flash."""
        return self.end - self.start

    @property
    def vector_alignment(self) -> int:
        """To what a vector table is aligned: its length to the next power of two, 128 at least.

        ARMv7-M Architecture Reference Manual (DDI 0403E), B1.5.3; from memory.
        """
        words = 16 + self.interrupts
        return max(128, 1 << (4 * words - 1).bit_length())

    @cached_property
    def _starts(self) -> tuple[int, ...]:
        return tuple(sector.start for sector in self.sectors)

    def sector_at(self, address: int) -> Sector | None:
        """The sector an address lies in, ``None`` outside flash."""
        if not self.start <= address < self.end:
            return None
        return self.sectors[bisect_right(self._starts, address) - 1]

    def touched(self, start: int, end: int) -> tuple[Sector, ...]:
        """The sectors in which any address from ``start`` up to ``end`` lies."""
        return tuple(sector for sector in self.sectors if start < sector.end and sector.start < end)


def sectors(start: int, *runs: tuple[int, int]) -> tuple[Sector, ...]:
    """Sectors one after another: each run is how many, and how many bytes each.

    Examples
    --------
    >>> sectors(0x08000000, (1, 16384), (1, 65536))[1]
    Sector(number=1, start=134234112, size=65536)
    """
    made: list[Sector] = []
    for count, size in runs:
        for _ in range(count):
            made.append(Sector(len(made), start, size))
            start += size
    return tuple(made)


@dataclass(frozen=True)
class FlashMap:
    """What a board does with its processor's flash.

    Attributes
    ----------
    board
        The board's name as its owner and the releases say it, ``None`` where only the processor is known.
    image_at
        Where an image starts, ``None`` where not stated.
    settings
        Where settings are stored; ``None`` where not stated, empty where they lie outside this flash.
    kept
        What an image must never touch (a boot loader of the board's maker).
    """

    flash: Flash
    board: str | None = None
    image_at: int | None = None
    settings: tuple[Region, ...] | None = None
    kept: tuple[Region, ...] = ()

    @property
    def raw_at(self) -> int:
        """Where a raw binary belongs: where images start, else where the flash starts."""
        return self.flash.start if self.image_at is None else self.image_at
