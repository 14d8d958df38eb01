"""The flash part of a board's description: processor, where images start, where settings lie."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.core.image.flash import Flash, FlashMap, Region
from asflown.core.image.processors import PROCESSORS, processor
from asflown.core.ports.processor import split
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas_board import FlashArea

NAMES = {"settings": "settings", "kept": "kept area"}


def read(data: bytes, name: str) -> FlashMap:
    """Read a flash map.

    Raises
    ------
    InputError
        Naming every fault: a processor without a table, an area outside its flash, a start outside it.
    """
    from asflown.formats.schemas_board import BoardFile

    written = checked(BoardFile, load_toml(data, name), name, toml_lines(data))
    flash = processor(split(written.processor)[0])
    if flash is None:
        known = ", ".join(PROCESSORS)
        raise InputError(
            f"there is no table for the processor {written.processor!r}; known: {known}",
            where=f"{name} processor",
            next_step="look the part's name up on the chip: without package and temperature letters",
        )
    regions = {word: tuple(_region(area) for area in written.area if area.what == word) for word in NAMES}
    faults = [*_outside(name, flash, regions), *_start(name, flash, written.image_at)]
    if regions["settings"] and written.settings_elsewhere:
        faults.append(Fault("settings have an area, and are said to lie elsewhere", name))
    if faults:
        raise InputError("is no flash map", where=name, faults=tuple(faults), next_step="correct the file")
    settings = () if written.settings_elsewhere else (regions["settings"] or None)
    return FlashMap(flash, written.board, written.image_at, settings, regions["kept"])


def _region(area: FlashArea) -> Region:
    return Region(area.name or NAMES[area.what], area.start, area.start + area.size)


def _outside(name: str, flash: Flash, regions: dict[str, tuple[Region, ...]]) -> list[Fault]:
    return [
        Fault(
            f"{region.name} 0x{region.start:08X}-0x{region.end - 1:08X} lies outside the flash of"
            f" {flash.processor} (0x{flash.start:08X}-0x{flash.end - 1:08X})",
            f"{name} area",
        )
        for found in regions.values()
        for region in found
        if not flash.start <= region.start < region.end <= flash.end
    ]


def _start(name: str, flash: Flash, at: int | None) -> list[Fault]:
    if at is None or flash.start <= at < flash.end:
        return []
    return [Fault(f"0x{at:08X} lies outside the flash of {flash.processor}", f"{name} image_at")]
