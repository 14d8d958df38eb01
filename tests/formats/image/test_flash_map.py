"""A board's flash map."""

from __future__ import annotations

import pytest

from asflown.errors import InputError
from asflown.formats.image import flash_map

GOOD = b"""board = "wrackline-2"
processor = "stm32f407xg"
image_at = 0x08000000
[[area]]
what = "settings"
start = 0x080E0000
size = 0x20000
[[area]]
what = "kept"
name = "the maker's loader"
start = 0x08004000
size = 0x4000
"""


def test_it_is_read():
    made = flash_map.read(GOOD, "b.toml")
    assert (made.board, made.flash.processor, made.raw_at) == ("wrackline-2", "STM32F407xG", 0x08000000)
    assert [(r.name, r.start, r.end) for r in made.settings or ()] == [("settings", 0x080E0000, 0x08100000)]
    assert [r.name for r in made.kept] == ["the maker's loader"]


def test_what_is_missing_is_not_stated():
    made = flash_map.read(b'processor = "STM32H743xI"\n', "b.toml")
    assert (made.board, made.image_at, made.settings, made.kept) == (None, None, None, ())
    assert flash_map.read(b'processor = "STM32H743xI"\nsettings_elsewhere = true\n', "b").settings == ()


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (b"stm32f407xg", b"stm32f999", "there is no table for the processor 'stm32f999'; known: STM32F405xG"),
        (b"0x20000\n", b"0x20001\n", "settings 0x080E0000-0x08100000 lies outside the flash of STM32F407xG"),
        (b"0x08000000\n", b"0x20000000\n", "0x20000000 lies outside the flash"),
        (b"size = 0x4000", b"size = 0", "greater than 0"),
        (b"image_at", b"image_on", "image_on"),
        (b'what = "kept"', b'what = "lost"', "b.toml:9"),
        (b"[[area]]", b"settings_elsewhere = true\n[[area]]", "are said to lie elsewhere"),
    ],
)
def test_faults_are_named(old, new, says):
    with pytest.raises(InputError) as caught:
        flash_map.read(GOOD.replace(old, new, 1), "b.toml")
    assert says in str(caught.value)
