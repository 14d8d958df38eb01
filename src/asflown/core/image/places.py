"""Where an image goes: inside the flash or not, at its start or not, over what is kept or not."""

from __future__ import annotations

from collections.abc import Iterator

from asflown.core.image.facts import Fact, agrees, differs, not_stated
from asflown.core.image.flash import FlashMap, Region
from asflown.core.image.model import Image

RANGE, START, OVERLAP, KEPT, SETTINGS = (
    "address range",
    "start",
    "overlap",
    "areas the board keeps",
    "settings area",
)


def place_facts(image: Image, to: FlashMap) -> Iterator[Fact]:
    """Address range, start, overlap, areas that are kept, and whether the settings survive."""
    yield _range(image, to)
    yield _start(image, to)
    doubled = [remark for remark in image.remarks if "both give" in remark]
    yield agrees(OVERLAP, doubled[0] if doubled else "no two parts of the file want the same address")
    yield _kept(image, to)
    yield _settings(image, to)


def _range(image: Image, to: FlashMap) -> Fact:
    flash = to.flash
    outside = [s for s in image.segments if s.address < flash.start or s.end > flash.end]
    whole = f"the flash of {flash.processor} is 0x{flash.start:08X}-0x{flash.end - 1:08X}"
    if outside:
        first = outside[0]
        more = f" and {len(outside) - 1} more" if len(outside) > 1 else ""
        says = f"0x{first.address:08X}-0x{first.end - 1:08X}{more} lies outside; {whole}"
        return differs(RANGE, says, bricks=True)
    count = len(flash.touched(image.start, image.end))
    parts = f"{len(image.segments)} part{'s' if len(image.segments) > 1 else ''}"
    says = f"0x{image.start:08X}-0x{image.end - 1:08X} in {parts}, {count} of {len(flash.sectors)} sectors"
    return agrees(RANGE, f"{says}; {whole}")


def _start(image: Image, to: FlashMap) -> Fact:
    if to.image_at is None:
        return not_stated(START, f"the image starts at 0x{image.start:08X}; the board does not state where")
    if image.start != to.image_at:
        says = f"the image starts at 0x{image.start:08X}; on this board it starts at 0x{to.image_at:08X}"
        return differs(START, says, bricks=True)
    return agrees(START, f"0x{image.start:08X}, as the board states")


def _touches(image: Image, to: FlashMap, region: Region) -> bool:
    """Whether writing the image erases or writes anything of a region."""
    sectors = to.flash.touched(region.start, region.end)
    return any(image.meets(sector.start, sector.end) for sector in sectors)


def _kept(image: Image, to: FlashMap) -> Fact:
    if not to.kept:
        return not_stated(KEPT, "the board states none (a boot loader of its maker, say)")
    hit = [region.name for region in to.kept if _touches(image, to, region)]
    if hit:
        return differs(KEPT, f"writing the image erases {', '.join(hit)}", bricks=True)
    return agrees(KEPT, f"{', '.join(region.name for region in to.kept)}: not touched")


def _settings(image: Image, to: FlashMap) -> Fact:
    if to.settings is None:
        return not_stated(SETTINGS, "the board does not state where settings are stored: take them as lost")
    if not to.settings:
        return agrees(SETTINGS, "settings lie outside this flash, and stay")
    written = [r for r in to.settings if image.meets(r.start, r.end)]
    where = ", ".join(f"0x{r.start:08X}-0x{r.end - 1:08X}" for r in to.settings)
    if written:
        return differs(SETTINGS, f"the image itself lies over {where}: settings are lost", bricks=False)
    if any(_touches(image, to, region) for region in to.settings):
        says = f"{where} shares a sector with the image and is erased with it: settings are lost"
        return differs(SETTINGS, says, bricks=False)
    return agrees(SETTINGS, f"{where} is in no sector of the image: stored settings stay")


def room_left(image: Image, to: FlashMap) -> int | None:
    """Bytes between the image's end and what comes next in flash; ``None`` outside flash."""
    if not to.flash.start <= image.start < image.end <= to.flash.end:
        return None
    regions = (*(to.settings or ()), *to.kept)
    after = [region.start for region in regions if region.start >= image.end]
    return min([*after, to.flash.end]) - image.end
