"""``asflown image check``: exit codes, what it prints, and a message of its own for every wrong file."""

from __future__ import annotations

import hashlib
import struct
from pathlib import Path

import pytest

from asflown.core.image.model import Suffix
from asflown.formats.image import suffix

TAIL = Suffix(0x0483, 0xDF11, 0xFFFF, 0x0100)
IMAGES = Path(__file__).parents[1] / "formats" / "image"
BOARD = """board = "wrackline-2"
processor = "STM32F407xG"
image_at = 0x08000000
[[area]]
what = "settings"
start = 0x080E0000
size = 0x20000
"""
WORDS = '[[word]]\nkind = "board"\noffset = 1024\nvalue = "wrackline-2"\n'


@pytest.fixture
def board(desk):
    return desk.write("b.toml", BOARD)


def blink(name: str = "blink.hex") -> bytes:
    return (IMAGES / name).read_bytes()


def test_each_container_is_taken(desk, board):
    for name in ("blink.hex", "blink.elf", "blink.bin"):
        body = desk("image", "check", str(IMAGES / name), "--board", board, "--json").json
        assert body["may_be_written"]
        assert sum(body["counts"].values()) == len(body["facts"])
        assert body["counts"]["differs"] == 0


def test_with_a_release_its_words_and_hashes_count(desk, board):
    folder = desk.folder / "marram-5.0"
    sums = f"{hashlib.sha256(blink()).hexdigest()}  blink.hex\n"
    files = {
        "release.toml": 'firmware = "marram"\nversion = "5.0"\nboards = ["wrackline-2"]\n',
        "image_words.toml": WORDS, "SHA256SUMS": sums, "images/blink.hex": blink().decode(),
    }  # fmt: skip
    for name, text in files.items():
        desk.write(f"marram-5.0/{name}", text)
    desk("release", "add", str(folder))
    words = ("image", "check", desk.write("blink.hex", blink()), "--board", board, "--release", "marram-5.0")
    facts = {f["subject"]: f for f in desk(*words, "--json").json["facts"]}
    assert {facts[name]["standing"] for name in ("board word", "SHA-256", "release's boards")} == {"agrees"}
    desk.write("b.toml", BOARD.replace("wrackline-2", "wrackline-3"))
    ran = desk(*words, code=5)
    assert "This image must not go on this board (release's boards, board word)" in ran.out


def test_a_list_that_contradicts_the_images_beside_it_is_refused(desk):
    desk.write("r-1/SHA256SUMS", f"{'0' * 64}  blink.hex\n")
    desk.write("r-1/images/blink.hex", blink())
    ran = desk("release", "add", str(desk.folder / "r-1"), code=1)
    assert "is not the file the list of hashes names" in ran.err


def test_a_signed_list(desk, board):
    signed = IMAGES / "signed"
    words = [
        "image", "check", str(IMAGES / "blink.bin"), "--board", board, "--hashes", str(signed / "SHA256SUMS"),
        "--signature", str(signed / "SHA256SUMS.minisig"),
    ]  # fmt: skip
    facts = {f["subject"]: f for f in desk(*words, "--json").json["facts"]}
    assert facts["SHA-256"]["standing"] == "agrees"
    assert "no key to check it with" in facts["signature"]["statement"]
    ran = desk(*words, "--key", str(signed / "minisign.pub"), "--json")
    assert (
        "of the list of hashes holds"
        in {f["subject"]: f for f in ran.json["facts"]}["signature"]["statement"]
    )
    desk(*words, "--key", str(signed / "other.pub"), code=5)


def test_sectors_against_the_old_image(desk, board):
    old = desk.write("old.bin", blink("blink.bin")[:-1] + b"\0")
    ran = desk("image", "check", str(IMAGES / "blink.hex"), "--board", board, "--old", old, "--json")
    assert (ran.json["sectors"], ran.json["sectors_changed"]) == ([0], [0])


def uf2(family: int) -> bytes:
    """blink.bin in blocks, of a processor's family."""
    data = blink("blink.bin")
    parts = [data[place : place + 256] for place in range(0, len(data), 256)]
    return b"".join(
        struct.pack(
            "<8I", 0x0A324655, 0x9E5D5157, 0x2000, 0x08000000 + 256 * n, len(part), n, len(parts), family
        )
        + part.ljust(476, b"\0")
        + struct.pack("<I", 0x0AB16F30)
        for n, part in enumerate(parts)
    )


def at(address: int) -> bytes:
    """blink.hex as it would be built for another address: its extended address record replaced."""
    record = bytes([2, 0, 0, 4]) + struct.pack(">H", address >> 16)
    return blink().replace(b":020000040800F2", f":{record.hex().upper()}{-sum(record) & 255:02X}".encode())


WRONG = {
    "wrong processor": (lambda: struct.pack("<II", 0x20050000, 0x08000189) + bytes(2000), 5, "lies in no RAM of STM32F407xG"),
    "another address": (lambda: at(0x08010000), 5, "on this board it starts at 0x08000000"),
    "outside the flash": (lambda: at(0x90000000), 5, "lies outside; the flash of STM32F407xG is"),
    "truncated HEX": (lambda: blink()[:700], 1, "the file is cut short"),
    "HEX cut in a line": (lambda: blink()[:705], 1, "it is the last line: the file is cut short"),
    "ELF for another machine": (lambda: blink("blink.elf")[:18] + b"\x3e\0" + blink("blink.elf")[20:], 1, "is for the machine EM_X86_64"),
    "empty": (lambda: b"", 1, "is empty"),
    "a settings listing": (lambda: b"set roll_p = 41\nset roll_i = 22\n" * 40, 1, "is a text, not an image: a settings listing"),
    "wrong processor's family": (lambda: uf2(0x6DB66082), 5, "family word 0x6DB66082; STM32F407xG has 0x57755A57"),
    "UF2 cut": (lambda: uf2(0x57755A57)[:1400], 1, "holds 2 blocks of 512 bytes and 376 bytes more: the file is cut short"),
    "UF2 without its last block": (lambda: uf2(0x57755A57)[:-512], 1, "is number 0 of 5; the file holds 4 blocks"),
    "ELF cut": (lambda: blink("blink.elf")[:8000], 1, "section headers end at byte 8664 of 8000: the file is cut short"),
    "ELF not linked": (lambda: blink("blink.elf")[:16] + b"\1" + blink("blink.elf")[17:], 1, "is of type ET_REL, not a linked program (ET_EXEC)"),
    "binary for another address": (lambda: struct.pack("<II", 0x20010000, 0x08010189) + bytes(2000), 5, "0x08010189 points outside the image"),
    "too large": (lambda: blink("blink.bin") + bytes(1 << 20), 5, "do not fit into the flash of STM32F407xG where they want to go"),
    "a DFU suffix that does not hold": (lambda: suffix.with_suffix(blink("blink.bin"), TAIL)[:-1] + b"\0", 1, "has a DFU suffix with the CRC 0x"),
    "a DFU suffix for another device": (lambda: suffix.with_suffix(blink("blink.bin"), Suffix(0x1209, 1, 0xFFFF, 0x0100)), 4, "CRC right, but for the device 1209:0001; the processor's own loader is 0483:DF11"),
    "a DFU suffix alone": (lambda: suffix.with_suffix(b"", TAIL), 1, "holds a DFU suffix and nothing else"),
    "packed": (lambda: b"PK\x03\x04" + bytes(60), 1, "is a zip file, not an image"),
    "several targets": (lambda: b"DfuSe\x01" + bytes(300), 1, "is a container of several targets, which is not read"),
    "erased flash": (lambda: b"\xff" * 4096, 5, "0xFFFFFFFF is no multiple of 4"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_each_wrong_file_has_its_own_message(desk, board, case):
    make, code, says = WRONG[case]
    ran = desk("image", "check", desk.write("f", make()), "--board", board, code=code)
    assert says in " ".join((ran.out + ran.err).split())
    assert "next: " in ran.out + ran.err


def test_a_board_that_is_none(desk):
    file = desk.write("f.hex", blink())
    assert "no processor there is a table for" in desk("image", "check", file, "--board", "x", code=1).err
    assert (
        "is no 32-bit address"
        in desk("image", "check", file, "--board", "STM32F407xG", "--at", "9x", code=1).err
    )
    desk("image", "check", file, "--board", "stm32f407xg")
