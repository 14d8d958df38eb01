"""A board's flash map."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

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


VALUES = st.one_of(
    st.sampled_from(
        ["settings", "kept", "wrackline-2", "stm32f407xg", "", True, False, 0, 1, -1, 1.5, [], {}]
    ),
    st.sampled_from([0x08000000, 0x080E0000, 0x20000, 0xFFFFFFFF, 1 << 32]),
)
AREAS = st.lists(
    st.dictionaries(st.sampled_from(["what", "start", "size", "name", "x"]), VALUES)
    | st.fixed_dictionaries({"what": VALUES, "start": VALUES, "size": VALUES}, optional={"name": VALUES}),
    max_size=3,
)
FILES = st.fixed_dictionaries(
    {"processor": st.sampled_from(["STM32F407xG", "stm32h743xi", "x", 7])},
    optional={
        "board": VALUES, "image_at": VALUES, "settings_elsewhere": VALUES, "area": AREAS | VALUES, "pads": VALUES,
        "serial": VALUES, "imageat": VALUES,
    },
)  # fmt: skip


@given(FILES)
def test_the_quick_way_reads_what_the_long_way_reads(tree):
    """A flash map, or a refusal in the same words, whether or not the model of the whole file is asked."""
    data = "".join(f"{key} = {_toml(value)}\n" for key, value in tree.items()).encode()

    def outcome() -> object:
        try:
            return flash_map.read(data, "b.toml")
        except InputError as error:
            return str(error)

    mixed = outcome()
    quick, flash_map._quickly = flash_map._quickly, lambda tree: None
    try:
        assert outcome() == mixed
    finally:
        flash_map._quickly = quick


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value)


def test_a_plain_description_is_read_the_quick_way(monkeypatch):
    """Else an image check would wait for the model of the whole file."""
    monkeypatch.setattr(flash_map, "checked", None)
    assert flash_map.read(GOOD, "b.toml").board == "wrackline-2"
