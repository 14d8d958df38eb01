"""Flash sectors and RAM of a few processors, each from its reference manual.

Sector patterns of the STM32F407 are stated in section 12.6 of the project's check values with how each is
known. The other rows were written from memory of the manuals named; sizes were laid beside the memory maps
of modm-devices 0.13.1 (see tests). Chip identifiers (ST AN2606) and UF2 family words are from memory.
"""

from __future__ import annotations

from asflown.core.image.flash import Flash, Region, sectors

K = 1024
_FLASH = 0x08000000


def _ram(*ranges: tuple[str, int, int]) -> tuple[Region, ...]:
    return tuple(Region(name, start, start + size * K) for name, start, size in ranges)


_F4 = ((4, 16 * K), (1, 64 * K))
_F4_FAMILY, _F7_FAMILY, _H7_FAMILY = 0x57755A57, 0x53B80F00, 0x6DB66082

_TABLE = (
    *(
        Flash(
            name,
            sectors(_FLASH, *_F4, (7, 128 * K)),
            _ram(("SRAM", 0x20000000, 128), ("core-coupled RAM", 0x10000000, 64)),
            82,
            "RM0090 section 3.3, table 5; section 2.3",
            chip_id=0x413,
            uf2_family=_F4_FAMILY,
        )
        for name in ("STM32F405xG", "STM32F407xG")
    ),
    Flash(
        "STM32F411xE",
        sectors(_FLASH, *_F4, (3, 128 * K)),
        _ram(("SRAM", 0x20000000, 128)),
        86,
        "RM0383 section 3.3; section 2.3",
        chip_id=0x431,
        uf2_family=_F4_FAMILY,
    ),
    Flash(
        "STM32F722xE",
        sectors(_FLASH, *_F4, (3, 128 * K)),
        _ram(("DTCM and SRAM", 0x20000000, 256)),
        104,
        "RM0431 section 3.3; section 2.3",
        chip_id=0x452,
        uf2_family=_F7_FAMILY,
    ),
    Flash(
        "STM32F745xG",
        sectors(_FLASH, (4, 32 * K), (1, 128 * K), (3, 256 * K)),
        _ram(("DTCM and SRAM", 0x20000000, 320)),
        98,
        "RM0385 section 3.3; section 2.3",
        chip_id=0x449,
        uf2_family=_F7_FAMILY,
    ),
    Flash(
        "STM32H743xI",
        sectors(_FLASH, (16, 128 * K)),
        _ram(("DTCM", 0x20000000, 128), ("AXI SRAM", 0x24000000, 512), ("SRAM", 0x30000000, 288)),
        150,
        "RM0433 section 4.3; section 2.3",
        chip_id=0x450,
        uf2_family=_H7_FAMILY,
        write_unit=32,
    ),
)

PROCESSORS = {flash.processor: flash for flash in _TABLE}


def processor(name: str) -> Flash | None:
    """The processor of that name, capitals aside; ``None`` where there is no table for it."""
    wanted = name.strip().casefold()
    return next((flash for known, flash in PROCESSORS.items() if known.casefold() == wanted), None)
