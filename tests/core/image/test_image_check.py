"""Each fact of an image: agrees, differs, not stated; and what there is no way past."""

from __future__ import annotations

import struct
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from images import AT, BOARD, F407, RELEASE, firmware, image

from asflown.core.image.check import Question, check
from asflown.core.image.facts import Checked, Fact, Standing
from asflown.core.image.flash import FlashMap, Region
from asflown.core.image.model import Container, Suffix, joined
from asflown.core.image.origin import Signed, Stated
from asflown.core.image.processors import PROCESSORS, processor


def fact(checked: Checked, subject: str) -> Fact:
    return next(f for f in checked.facts if f.subject == subject)


def checked(data: bytes | None = None, at: int = AT, to: FlashMap = BOARD, **more: object) -> Checked:
    question = Question(image(firmware() if data is None else data, at), to, release=RELEASE)
    return check(replace(question, **more))


def test_sectors_of_the_f407_are_the_manuals():
    """RM0090 section 3.3, table 5, as section 12.6 of the check values gives it."""
    starts = [0x08000000, 0x08004000, 0x08008000, 0x0800C000, 0x08010000, 0x08020000, 0x08040000,
              0x08060000, 0x08080000, 0x080A0000, 0x080C0000, 0x080E0000]  # fmt: skip
    assert [s.start for s in F407.sectors] == starts
    assert [s.size // 1024 for s in F407.sectors] == [16] * 4 + [64] + [128] * 7
    assert F407.end == 0x08100000
    assert (F407.vector_alignment, F407.chip_id) == (512, 0x413)


#: Flash and RAM bytes and interrupts by modm-devices 0.13.1 (ST's own database), read out with its parser and copied here.
MODM = {
    "STM32F405xG": (1048576, 114688 + 16384 + 65536, 82),
    "STM32F407xG": (1048576, 114688 + 16384 + 65536, 82),
    "STM32F411xE": (524288, 131072, 86),
    "STM32F722xE": (524288, 65536 + 180224 + 16384, 104),
    "STM32F745xG": (1048576, 65536 + 245760 + 16384, 98),
    "STM32H743xI": (2 * 1048576, 131072 + 524288 + 2 * 131072 + 32768, 150),
}


@pytest.mark.parametrize("name", PROCESSORS)
def test_sizes_are_those_of_the_open_device_database(name):
    flash = PROCESSORS[name]
    assert (flash.size, sum(r.end - r.start for r in flash.ram), flash.interrupts) == MODM[name]
    assert all(a.end == b.start for a, b in pairwise(flash.sectors))
    assert processor(name.lower()) is flash


@pytest.mark.parametrize(
    ("stack", "reset", "wrong"),
    [
        # section 12.7 (ARMv7-M manual, B1.5)
        (0x20020000, 0x08000189, None),
        (0x2001FFFC, 0x08000189, None),
        (0x10010000, 0x08000189, None),
        (0x20020004, 0x08000189, "initial stack pointer"),
        (0x20000000, 0x08000189, "initial stack pointer"),
        (0x20020000, 0x08000188, "reset vector"),
        (0x20020000, 0x080A0001, "reset vector"),
        (0x20010002, 0x08000189, "initial stack pointer"),
        (0xFFFFFFFF, 0xFFFFFFFF, "initial stack pointer, reset vector"),
    ],
)
def test_vector_table(stack, reset, wrong):
    made = checked(firmware(stack=stack, reset=reset))
    assert ", ".join(f.subject for f in made.refused) == (wrong or "")


def test_a_vector_table_must_be_aligned_and_there():
    to = replace(BOARD, image_at=AT + 0x100)
    made = checked(firmware(reset=AT + 0x289), AT + 0x100, to)
    assert fact(made, "vector table's place").refuses
    assert "no multiple of 512" in fact(made, "vector table's place").statement
    assert "has no vector table" in fact(checked(b"\0\0\2"), "vector table's place").statement


def test_reserved_vectors_can_be_answered():
    data = bytearray(firmware())
    data[4 * 7] = 1
    made = checked(bytes(data))
    assert [f.subject for f in made.to_answer] == ["reserved vectors"]
    assert not made.refused


def test_a_right_image_agrees_where_it_was_stated():
    made = checked()
    assert made.standing(Standing.DIFFERS) == ()
    assert [f.subject for f in made.standing(Standing.NOT_STATED)] == [
        "container", "DFU suffix", "processor", "areas the board keeps", "build word", "SHA-256", "signature",
    ]  # fmt: skip
    assert made.room_left == 0x080E0000 - AT - 40_000
    assert [(f.name, f.fits) for f in made.functions] == [("lamps", True), ("chart", False), ("x", None)]


WRONG = {
    "wrong board": (firmware(board="wrackline-3"), AT, "board word", "stands 'wrackline-3'; this board is 'wrackline-2'"),
    "board that starts alike": (firmware(board="wrackline-22"), AT, "board word", "stands 'wrackline-22'"),
    "another address": (firmware(reset=0x08010189), 0x08010000, "start", "starts at 0x08010000; on this board it starts at 0x08000000"),
    "beyond the flash": (firmware(1_100_000), AT, "address range", "lies outside; the flash of STM32F407xG is 0x08000000-0x080FFFFF"),
    "in RAM": (firmware(), 0x20000000, "address range", "0x20000000-0x20009C3F lies outside"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_what_bricks_has_no_way_past(case):
    data, at, subject, says = WRONG[case]
    made = checked(data, at)
    assert fact(made, subject).refuses
    assert says in fact(made, subject).statement


def test_another_version_can_be_answered():
    made = checked(firmware(version="marram 5.01"))
    assert "stands 'marram 5.01'; stated is 'marram 5.0'" in fact(made, "version word").statement
    assert not made.refused


def test_a_release_for_other_boards_is_refused():
    made = checked(to=replace(BOARD, board="driftwood-1"))
    assert {f.subject for f in made.refused} == {"release's boards", "board word"}


def test_settings_area():
    assert fact(checked(), "settings area").standing is Standing.AGREES
    big = checked(firmware(0xE8000))
    assert "the image itself lies over" in fact(big, "settings area").statement
    near = replace(BOARD, settings=(Region("settings", 0x0800A000, 0x0800C000),))
    assert "shares a sector with the image" in fact(checked(to=near), "settings area").statement
    assert fact(checked(to=near), "settings area").standing is Standing.DIFFERS
    assert not checked(to=near).refused
    unknown = checked(to=replace(BOARD, settings=None))
    assert fact(unknown, "settings area").standing is Standing.NOT_STATED
    assert fact(checked(to=replace(BOARD, settings=())), "settings area").standing is Standing.AGREES


def test_what_the_board_keeps_is_never_erased():
    loader = (Region("the maker's loader", AT, AT + 0x4000),)
    to = replace(BOARD, image_at=AT + 0x4000, kept=loader)
    moved = firmware(reset=AT + 0x4189)
    assert not checked(moved, AT + 0x4000, to).refused
    made = checked(to=to)
    assert {"areas the board keeps", "start"} <= {f.subject for f in made.refused}


def test_hash_and_signature():
    sha256 = image(firmware()).sha256
    good = Stated((("made.bin", sha256),), Signed(True, "the image", "AB", "from maker.pub", "5.0"))
    made = checked(stated=good)
    assert fact(made, "SHA-256").standing is fact(made, "signature").standing is Standing.AGREES
    bad = Stated((("images/made.bin", "0" * 64),), Signed(False, "the image", "AB", "x", why_not="other"))
    assert {f.subject for f in checked(stated=bad).refused} == {"SHA-256", "signature"}
    none_of = checked(stated=Stated((("other.bin", "0" * 64),)))
    assert "is none of the 1 in the maker's list" in fact(none_of, "SHA-256").statement


def test_suffix_and_family_for_something_else():
    other = check(Question(replace(image(firmware()), suffix=Suffix(0x1234, 1, 0xFFFF, 0x100)), BOARD))
    assert fact(other, "DFU suffix").standing is Standing.DIFFERS
    uf2 = replace(image(firmware()), container=Container.UF2, family=0x12345678)
    assert fact(check(Question(uf2, BOARD)), "processor").refuses
    uf2 = replace(uf2, family=0x57755A57)
    assert fact(check(Question(uf2, BOARD)), "processor").standing is Standing.AGREES


def test_an_elf_does_not_say_for_which_processor_it_is():
    elf = replace(image(firmware()), container=Container.ELF)
    assert fact(check(Question(elf, BOARD)), "processor").standing is Standing.NOT_STATED


def test_which_sectors_differ():
    new, old = bytearray(firmware()), firmware()
    new[0x4010] ^= 1
    made = checked(bytes(new), old=image(old))
    assert [s.number for s in made.touched] == [0, 1, 2]
    assert [s.number for s in made.changed or ()] == [1]
    assert checked().changed is None


def test_nothing_stated_is_no_agreement():
    """A processor alone: no board, no release. Everything that needs them is not stated, and says so."""
    made = check(Question(image(firmware()), FlashMap(F407)))
    open_ = {f.subject for f in made.standing(Standing.NOT_STATED)}
    assert {"start", "settings area", "board word", "version word", "release's boards", "SHA-256"} <= open_


@given(st.integers(0, 0xFFFFFFFF), st.integers(0, 0xFFFFFFFF))
def test_a_vector_table_passes_only_as_the_manual_says(stack, reset):
    data = firmware(1024 + 64, stack=stack, reset=reset)
    made = check(Question(image(data), FlashMap(F407)))
    in_ram = 0x20000000 < stack <= 0x20020000 or 0x10000000 < stack <= 0x10010000
    may = stack % 4 == 0 and in_ram and reset % 2 == 1 and AT <= reset - 1 < AT + len(data)
    assert bool(made.refused) is not may


@given(st.lists(st.tuples(st.integers(0, 60), st.binary(max_size=12)), max_size=8))
def test_joined_is_what_writing_one_after_another_gives(pieces):
    segments, clash = joined(pieces)
    byte_of: dict[int, set[int]] = {}
    for address, data in pieces:
        for i, b in enumerate(data, address):
            byte_of.setdefault(i, set()).add(b)
    assert {a for s in segments for a in range(s.address, s.end)} == set(byte_of)
    assert all(a.end < b.address for a, b in pairwise(segments))
    assert (clash is not None and clash.differs) == any(len(found) > 1 for found in byte_of.values())
    if not (clash and clash.differs):
        assert all({b} == byte_of[a] for s in segments for a, b in enumerate(s.data, s.address))


def test_words_are_read_least_byte_first():
    assert image(struct.pack("<I", 0x20020000)).word(AT) == 0x20020000
