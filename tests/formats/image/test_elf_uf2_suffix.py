"""ELF, UF2, raw binaries and the DFU suffix."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.image.model import Container, Suffix
from asflown.errors import InputError
from asflown.formats.image import suffix
from asflown.formats.image.reading import read

HERE = Path(__file__).parent
ELF = (HERE / "blink.elf").read_bytes()
BIN = (HERE / "blink.bin").read_bytes()


def refusal(data: bytes, name: str = "f", **more: int) -> str:
    with pytest.raises(InputError) as caught:
        read(data, name, **more)
    assert caught.value.next_step
    return str(caught.value)


def test_compilers_elf_equals_objcopys_binary():
    """.data lies at its load address in flash, not where it runs (gcc 12.2, recipe in blink.c)."""
    made = read(ELF, "blink.elf")
    assert (made.container, made.entry) == (Container.ELF, 0x0800040D)
    assert made.filled(0x08000000, made.end, 0) == BIN
    assert made.at(0x0800043C, 4) == bytes.fromhex("78563412")


@pytest.mark.parametrize(
    ("place", "value", "says"),
    [
        (18, b"\x3e\x00", "is for the machine EM_X86_64, not for a 32-bit Arm (EM_ARM)"),
        (18, b"\xf3\x00", "is for the machine EM_RISCV"),
        (16, b"\x01\x00", "is of type ET_REL, not a linked program (ET_EXEC)"),
        (5, b"\x02", "big-endian"),
        (4, b"\x02", "is 64-bit, little-endian; the processor is 32-bit"),
        (44, b"\xff\xff", "says it has 65535 segments"),
        (44, b"\x00\x00", "has no load segment with a byte in it"),
    ],
)
def test_elf_that_is_not_for_this_is_refused(place, value, says):
    assert says in refusal(ELF[:place] + value + ELF[place + len(value) :])


def test_elf_cut_short_is_refused():
    without_sections = ELF[:48] + bytes(2) + ELF[50:]
    assert "load segment 1 ends at byte 8196 of 8000: the file is cut short" in refusal(
        without_sections[:8000]
    )
    assert f"section headers end at byte {len(ELF)} of {len(ELF) - 1}: the file is cut short" in refusal(
        ELF[:-1]
    )
    assert "an ELF header has 52" in refusal(ELF[:40])
    assert "segment headers end at byte 116 of 60: the file is cut short" in refusal(ELF[:60])


def test_elf_that_holds_more_than_it_is_long_is_refused():
    """Two segments that share the file's bytes would take memory the file does not account for."""
    made = bytearray(ELF[:52] + ELF[52:84] * 2 + bytes(8))
    made[44:50] = b"\2\0" + made[46:48] + bytes(2)
    for at, address in ((52, 0x08000000), (84, 0x08010000)):
        made[at : at + 24] = struct.pack("<6I", 1, 0, address, address, 120, 120)
    assert "says that load segments 0 to 1 hold 240 bytes; the whole file has 124" in refusal(bytes(made))


ELF_PLACES = st.tuples(st.integers(0, 115), st.binary(min_size=1, max_size=4))


@given(st.lists(ELF_PLACES, max_size=3))
def test_pyelftools_reads_the_same_segments(changes):
    """Whatever of the headers is changed: what is taken is what pyelftools finds at the same places."""
    from elftools.elf.elffile import ELFFile

    data = bytearray(ELF)
    for place, value in changes:
        data[place : place + len(value)] = value
    try:
        made = read(bytes(data), "f")
    except InputError:
        return
    if made.container is not Container.ELF:
        return
    theirs = ELFFile(io.BytesIO(bytes(data)))
    wanted = [
        (s["p_paddr"], s.data()) for s in theirs.iter_segments() if s["p_type"] == "PT_LOAD" and s["p_filesz"]
    ]
    assert (theirs.elfclass, theirs.little_endian, theirs["e_machine"]) == (32, True, "EM_ARM")
    assert made.entry == theirs["e_entry"]
    assert made.length == sum(len(body) for _, body in wanted)
    assert all(made.at(address, len(body)) == body for address, body in wanted)


def uf2(blocks: list[tuple[int, bytes]], flags: int = 0x2000, family: int = 0x57755A57) -> bytearray:
    return bytearray().join(
        struct.pack("<8I", 0x0A324655, 0x9E5D5157, flags, a, len(d), i, len(blocks), family)
        + d.ljust(476, b"\0")
        + struct.pack("<I", 0x0AB16F30)
        for i, (a, d) in enumerate(blocks)
    )


def test_uf2_is_read_in_any_order():
    made = read(bytes(uf2([(0x08000100, b"b" * 256), (0x08000000, b"a" * 256)])), "f.uf2")
    assert [(s.address, s.data) for s in made.segments] == [(0x08000000, b"a" * 256 + b"b" * 256)]
    assert made.family == 0x57755A57


UF2_FAULTS = [
    (508, b"\0", "block 1 of 2: has the last magic word 0x0AB16F00; expected 0x0AB16F30"),
    (512 + 4, b"\0", "block 2 of 2: has the second magic word"),
    (16, struct.pack("<I", 477), "block 1 of 2: says it holds 477 bytes; 1 to 476 are possible"),
    (512 + 20, b"\0", "block 2 of 2: has the number 0, as block 1 has"),
    (512 + 20, b"\2", "block 2 of 2: is number 2 of 2; the file holds 2 blocks"),
    (24, b"\3", "is number 0 of 3; the file holds 2 blocks"),
    (512 + 28, b"\0", "block 2 of 2: is for another processor family"),
    (9, b"\x10", "holds a piece of a file"),
    (
        512 + 12,
        struct.pack("<I", 0x08000080),
        "blocks 1 and 2 both give 0x08000080, and want different bytes",
    ),
    (12, b"\xf0\xff\xff\xff", "goes past the end of the address space at 0xFFFFFFF0"),
]


@pytest.mark.parametrize(("place", "value", "says"), UF2_FAULTS)
def test_uf2_faults_are_refused(place, value, says):
    data = uf2([(0x08000000, b"a" * 256), (0x08000100, b"b" * 256)])
    data[place : place + len(value)] = value
    assert says in refusal(bytes(data))


def test_uf2_cut_short_and_not_for_flash():
    data = bytes(uf2([(0x08000000, b"a" * 256), (0x08000100, b"b" * 256)]))
    assert "holds 1 blocks of 512 bytes and 488 bytes more" in refusal(data[:1000])
    assert "the file holds 1 blocks" in refusal(data[:512])
    assert "holds not one block for flash" in refusal(bytes(uf2([(0, b"x")], flags=0x2001)))


def test_suffix_worked_example():
    """Section 12.3: 16 zero bytes and ffff 11df 8304 0001 5546... give dwCRC 0x458215FA, on disk fa158245."""
    made = suffix.with_suffix(bytes(16), Suffix(0x0483, 0xDF11, 0xFFFF, 0x0100))
    assert made[16:] == bytes.fromhex("ffff11df83040001554644 10fa158245".replace(" ", ""))


def test_crc_is_jamcrc():
    """The published check value of CRC-32/JAMCRC over '123456789' (crccheck, crcmod)."""
    assert suffix.crc(b"123456789") == 0x340BC6D9


@pytest.mark.parametrize("name", ["blink.elf", "blink.hex", "blink.bin"])
def test_each_container_with_and_without_suffix(name):
    data = (HERE / name).read_bytes()
    plain = read(data, name, at=0x08000000)
    tail = Suffix(0x0483, 0xDF11, 0x0200, 0x0100)
    suffixed = read(suffix.with_suffix(data, tail), name, at=0x08000000)
    assert (plain.suffix, suffixed.suffix) == (None, tail)
    assert suffixed.segments == plain.segments
    assert plain.filled(0x08000000, plain.end, 0) == BIN


def test_damaged_suffix_is_refused():
    made = bytearray(suffix.with_suffix(BIN, Suffix(0x0483, 0xDF11, 0xFFFF, 0x0100)))
    made[7] ^= 1
    assert "has a DFU suffix with the CRC" in refusal(bytes(made), at=0x08000000)
    made[7] ^= 1
    made[-5] = 9
    assert "says it is 9 bytes long" in refusal(bytes(made), at=0x08000000)


OTHERS = {
    b"": "is empty",
    b"# wrackline-2\nroll.p = 41\nroll.i = 22\n" * 30: "is a text, not an image: a settings listing",
    "été = 3\n".encode("latin-1") * 300: "is a text",
    b"PK\x03\x04" + bytes(40): "is a zip file",
    b"DfuSe\x01" + bytes(300): "container of several targets",
}


@pytest.mark.parametrize("data", OTHERS)
def test_what_is_no_image_is_refused(data):
    assert OTHERS[data] in refusal(data, at=0x08000000)


def test_raw_needs_a_place():
    assert "is a raw binary, which does not say where it belongs" in refusal(BIN)
    assert "past the end of the address space" in refusal(BIN, at=0xFFFFFF00)
    assert read(BIN, "f", at=0x08000000).start == 0x08000000
