"""What a boot loader says of itself, and what does not fit the board that is meant."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from asflown.core.image.flash import Flash, Sector


@dataclass(frozen=True, slots=True)
class Told:
    """What a boot loader says of itself.

    Attributes
    ----------
    protocol
        ``USB DFU`` or ``serial boot loader``.
    version
        Of the protocol, as the loader says it.
    chip
        The processor's identifier, ``None`` where the protocol does not tell it.
    sectors
        The flash as the loader describes it, ``None`` where it does not.
    block
        Most bytes of one write.
    can_read
        Whether it gives the flash out.
    commands
        Codes of the commands it knows, where it lists them.
    """

    protocol: str
    version: str
    chip: int | None = None
    sectors: tuple[Sector, ...] | None = None
    block: int = 256
    can_read: bool = True
    commands: tuple[int, ...] = ()

    @property
    def said(self) -> str:
        """In words."""
        chip = "" if self.chip is None else f", chip 0x{self.chip:03X}"
        return f"{self.protocol} {self.version}{chip}"


def misfits(told: Told, flash: Flash) -> Iterator[str]:
    """What of a loader's answers cannot be the processor that is meant."""
    if told.chip is not None and flash.chip_id is not None and told.chip != flash.chip_id:
        yield (
            f"the loader says it is chip 0x{told.chip:03X}; {flash.processor} is 0x{flash.chip_id:03X}:"
            " this is another processor"
        )
    if told.sectors is not None and _places(told.sectors) != _places(flash.sectors):
        theirs, ours = _described(told.sectors), _described(flash.sectors)
        yield f"the loader describes its flash as {theirs}; {flash.processor} has {ours}"
    if not told.can_read:
        yield (
            "the loader gives nothing out of its flash: neither could the old image be kept nor the new one"
            " proven"
        )


def _places(sectors: tuple[Sector, ...]) -> tuple[tuple[int, int], ...]:
    return tuple((sector.start, sector.size) for sector in sectors)


def _described(sectors: tuple[Sector, ...]) -> str:
    size = sum(sector.size for sector in sectors)
    return f"{len(sectors)} sectors, {size // 1024} KiB from 0x{sectors[0].start:08X}"
