"""The flash part of a board's description: processor, where images start, where settings lie."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from asflown.core.image.flash import Flash, FlashMap, Region
from asflown.core.image.processors import PROCESSORS, processor
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas_board import BoardFile, FlashArea

NAMES = {"settings": "settings", "kept": "kept area"}
_WORDS, _WHOLE = {"what", "name"}, {"start": 0, "size": 1}
_HIGHEST = 0xFFFF_FFFF


def read(data: bytes, name: str) -> FlashMap:
    """Read a flash map.

    Raises
    ------
    InputError
        Naming every fault: a processor without a table, an area outside its flash, a start outside it.
    """
    written = _written(data, name)
    flash = processor(written.processor) or processor(_without_package(written.processor))
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


def _without_package(part: str) -> str:
    from asflown.core.ports.processor import split

    return split(part)[0]


class _Area(NamedTuple):
    """A range of flash, as written."""

    what: str
    start: int
    size: int
    name: str | None = None


class _Flash(NamedTuple):
    """The flash part of a description, read without the machinery that names faults."""

    processor: str
    board: str | None = None
    image_at: int | None = None
    settings_elsewhere: bool = False
    area: tuple[_Area, ...] = ()


def _written(data: bytes, name: str) -> _Flash | BoardFile:
    """What is written: quickly where nothing else is in it and all of it is plainly right."""
    tree = load_toml(data, name)
    quick = _quickly(tree)
    if quick is not None:
        return quick
    from asflown.formats.schemas_board import BoardFile

    return checked(BoardFile, tree, name, toml_lines(data))


def _quickly(tree: dict[str, Any]) -> _Flash | None:
    """The flash part, ``None`` where anything else is written or the least doubt remains."""
    areas = tree.get("area", [])
    texts = [tree.get("board", ""), tree.get("processor")]
    if not tree.keys() <= {"board", "processor", "image_at", "settings_elsewhere", "area"}:
        return None
    if (
        not all(type(text) is str for text in texts)
        or type(tree.get("settings_elsewhere", False)) is not bool
    ):
        return None
    if type(areas) is not list or not all(map(_is_area, areas)) or not _is_whole(tree.get("image_at", 0), 0):
        return None
    return _Flash(**{**tree, "area": tuple(_Area(**area) for area in areas)})


def _is_whole(value: object, least: int) -> bool:
    return type(value) is int and least <= value <= _HIGHEST


def _is_area(area: object) -> bool:
    if type(area) is not dict or not {"what", *_WHOLE} <= area.keys() <= {*_WORDS, *_WHOLE}:
        return False
    whole = all(_is_whole(area[key], least) for key, least in _WHOLE.items())
    return whole and area["what"] in NAMES and type(area.get("name", "")) is str


def _region(area: FlashArea | _Area) -> Region:
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
