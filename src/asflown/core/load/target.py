"""What a flash shall hold when a load is done, sector by sector, and in which order it is written.

The sector with the vector table is erased first and its first block is written last of all: a board that was
written half-way has no vector table and starts neither the old firmware nor a mixture.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from asflown.core.image.flash import FlashMap, Region, Sector
from asflown.core.image.model import Image

#: What erased flash reads.
ERASED = 0xFF


@dataclass(frozen=True)
class Want:
    """What one sector shall hold.

    Attributes
    ----------
    data
        All of the sector; where the image says nothing, erased bytes.
    parts
        Ranges of addresses that must be so; the rest may hold anything.
    """

    sector: Sector
    data: bytes
    parts: tuple[tuple[int, int], ...]

    def holds(self, found: bytes) -> bool:
        """Whether a sector's content is what is wanted, where anything is wanted."""
        parts = ((start - self.sector.start, end - self.sector.start) for start, end in self.parts)
        return all(found[low:high] == self.data[low:high] for low, high in parts)

    def is_in(self, found: bytes) -> bool:
        """Whether all of the sector is as it is after erasing and writing."""
        return found == self.data

    def first_difference(self, found: bytes) -> int:
        """The lowest address that holds something else; one past the sector where none does."""
        pairs = zip(found, self.data, strict=True)
        return self.sector.start + next((n for n, (a, b) in enumerate(pairs) if a != b), self.sector.size)

    def blocks(self, size: int) -> Iterator[tuple[int, bytes]]:
        """Address and bytes of each block that is not erased bytes alone."""
        empty = bytes([ERASED]) * size
        for offset in range(0, len(self.data), size):
            block = self.data[offset : offset + size]
            if block != empty[: len(block)]:
                yield self.sector.start + offset, block


@dataclass(frozen=True)
class Target:
    """What a flash shall hold when a load is done.

    Attributes
    ----------
    wants
        By address; sectors that stand in none are left as they are.
    vectors
        Where the vector table lies.
    """

    wants: tuple[Want, ...]
    vectors: int

    def differing(self, held: Held, erased: Collection[int] = ()) -> tuple[Want, ...]:
        """The sectors that do not hold what is wanted.

        Parameters
        ----------
        erased
            Numbers of sectors that this load erased: what it did not write there must still be erased bytes.
        """

        def is_so(want: Want) -> bool:
            found = held.of(want.sector)
            return want.is_in(found) if want.sector.number in erased else want.holds(found)

        return tuple(want for want in self.wants if not is_so(want))

    def to_write(self, held: Held, erased: Collection[int] = ()) -> tuple[Want, ...]:
        """The sectors to erase and write: those that differ, and with any of them the vectors' one."""
        differing = self.differing(held, erased)
        if not differing:
            return ()
        first = self.with_vectors
        return differing if first is None or first in differing else (first, *differing)

    @property
    def with_vectors(self) -> Want | None:
        """The sector with the vector table, where it is written at all."""
        return next((w for w in self.wants if w.sector.start <= self.vectors < w.sector.end), None)

    @property
    def size(self) -> int:
        """Bytes that must be so."""
        return sum(end - start for want in self.wants for start, end in want.parts)


@dataclass(frozen=True)
class Held:
    """What a flash holds.

    Attributes
    ----------
    start
        Address of the first byte.
    """

    start: int
    data: bytes

    def of(self, sector: Sector) -> bytes:
        """What a sector holds."""
        return self.data[sector.start - self.start : sector.end - self.start]


def image_target(image: Image, to: FlashMap) -> Target:
    """An image alone: only sectors that hold a byte of it are written."""
    wants = tuple(
        Want(
            sector,
            image.filled(sector.start, sector.end),
            tuple((part.address, part.end) for part in image.between(sector.start, sector.end)),
        )
        for sector in to.flash.sectors
        if image.meets(sector.start, sector.end)
    )
    return Target(wants, to.raw_at if to.image_at is not None else image.start)


def flash_target(held: Held, to: FlashMap) -> Target:
    """A whole flash as it was, settings too; what the board keeps for itself is not written."""
    wants = tuple(
        Want(sector, held.of(sector), ((sector.start, sector.end),))
        for sector in to.flash.sectors
        if not _meets(sector, to.kept)
    )
    return Target(wants, to.raw_at)


def _meets(sector: Sector, regions: Iterable[Region]) -> bool:
    return any(region.meets(sector.start, sector.end) for region in regions)


def changed_beside(target: Target, to: FlashMap, before: Held, now: Held) -> tuple[Sector, ...]:
    """Sectors no load touches that hold something else than before, those with settings left out.

    A board that started in between may have stored settings; any other change means another board.
    """
    mine = {want.sector for want in target.wants}
    stored = to.settings or ()
    return tuple(
        sector
        for sector in to.flash.sectors
        if sector not in mine and not _meets(sector, stored) and before.of(sector) != now.of(sector)
    )
