"""The strict Intel HEX reader against the published records, against objcopy's output and against intelhex."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.image.model import Image
from asflown.errors import InputError
from asflown.formats.image import hexfile
from asflown.formats.image.reading import read

HERE = Path(__file__).parent
END = ":00000001FF"


def record(kind: int, offset: int, body: bytes) -> str:
    made = bytes([len(body), offset >> 8, offset & 255, kind]) + body
    return f":{made.hex().upper()}{-sum(made) & 255:02X}"


def image(*lines: str, end: str = END) -> Image:
    return read("\r\n".join([*lines, end, ""]).encode(), "a.hex")


def test_published_records_are_read():
    """Records of section 12.1 of the check values (specification and widely printed examples)."""
    made = image(":020000040800F2", ":08000000000002208901000844", ":040000050800018965")
    assert [(s.address, s.data.hex()) for s in made.segments] == [(0x08000000, "0000022089010008")]
    assert made.entry == 0x08000189
    made = image(":10010000214601360121470136007EFE09D2190140")
    assert (made.start, made.end) == (0x100, 0x110)
    assert image(":021000000102EB", ":0400000300003800C1").entry == 0x3800
    assert image(":02000004FFFFFC", record(0, 0xFFFE, b"ab")).end == 1 << 32


def test_segment_wraps_at_64k_and_linear_carries_on():
    made = image(":020000021000EC", record(0, 0xFFFE, b"abcd"))
    assert [(s.address, s.data) for s in made.segments] == [(0x10000, b"cd"), (0x1FFFE, b"ab")]
    made = image(":020000040800F2", record(0, 0xFFFE, b"abcd"))
    assert [(s.address, s.data) for s in made.segments] == [(0x0800FFFE, b"abcd")]


GOOD = ":020000040800F2", ":08000000000002208901000844"
REFUSED = {
    "bad checksum": ([*GOOD, ":0800080000000220890100083D", END], "a.hex:3: has the checksum 3D; its bytes give 3C"),
    "odd figures": ([*GOOD[:1], ":0800000000000220890100084", END], "a.hex:2: has an odd number of figures (25)"),
    "no figure": ([*GOOD[:1], ":08000000000002208901G00844", END], "a.hex:2: holds something that is no hexadecimal"),
    "no colon": ([*GOOD, "0800080000000220890100083C", END], "a.hex:3: a record starts with ':'"),
    "short": ([*GOOD, ":00", END], "a.hex:3: has 1 bytes; the shortest record has 5"),
    "length": ([*GOOD[:1], ":09000000000002208901000843", END], "a.hex:2: says 9 data bytes and holds 8"),
    "type": ([*GOOD, ":00000006FA", END], "a.hex:3: record type 06 is not one of 00 to 05"),
    "no end": ([*GOOD], "a.hex: ends after line 2 without an end record"),
    "data after the end": ([*GOOD, END, ":08000800000002208901000 83C".replace(" ", "")], "a.hex:4: something follows the end record of line 3"),
    "two ends": ([*GOOD, END, END], "a.hex:4: something follows the end record of line 3"),
    "no data": ([":020000040800F2", END], "a.hex: has an end record but not one byte of data"),
    "end alone": ([END], "not one byte of data"),
    "overlap": ([*GOOD, ":04000400DEADBEEFC0", END], "a.hex: lines 2 and 3 both give 0x08000004, and want different bytes there"),
    "past the end": ([":02000004FFFFFC", record(0, 0xFFFE, b"abc"), END], "a.hex:2: data at 0xFFFFFFFE go past the end of the address space"),
    "end with address": ([*GOOD, ":00123401B9", END], "a.hex:3: a record of type 01 (end) has 0 bytes at offset 0000, got 0 at 1234"),
    "address of 3 bytes": ([":03000004080000F1", *GOOD[1:], END], "a.hex:1: a record of type 04 (extended linear address) has 2 bytes"),
    "two starts": ([*GOOD, ":040000050800018965", record(5, 0, b"\x08\0\0\1"), END], "a.hex:4: starts at 0x08000001; line 3 says 0x08000189"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_each_fault_is_refused_with_its_line(case):
    lines, says = REFUSED[case]
    with pytest.raises(InputError) as caught:
        read("\n".join(lines).encode(), "a.hex")
    assert says in str(caught.value)
    assert caught.value.next_step


def test_same_bytes_twice_are_remarked():
    made = image(*GOOD, GOOD[1])
    assert made.remarks == ("lines 2 and 3 both give 0x08000000, with the same bytes",)
    assert made.length == 8


def test_objcopys_hex_and_binary_hold_the_same():
    """blink.hex and blink.bin were written by binutils' objcopy (recipe in blink.c)."""
    made = read((HERE / "blink.hex").read_bytes(), "blink.hex")
    assert made.filled(0x08000000, made.end, 0) == (HERE / "blink.bin").read_bytes()
    assert made.entry == 0x0800040D


@given(
    st.lists(
        st.tuples(st.integers(0, 0xFFFF_0000), st.binary(min_size=1, max_size=600)), min_size=1, max_size=5
    ),
    st.integers(1, 64),
)
def test_intelhex_writes_what_we_read(pieces, wide):
    """IntelHex writes, we read: the same bytes at the same addresses."""
    intelhex = pytest.importorskip("intelhex")
    theirs = intelhex.IntelHex()
    for address, data in pieces:
        theirs.puts(address, data)
    out = io.StringIO()
    theirs.write_hex_file(out, byte_count=wide)
    ours = read(out.getvalue().encode(), "a.hex")
    assert {a: b for s in ours.segments for a, b in enumerate(s.data, s.address)} == {
        a: theirs[a] for a in theirs.addresses()
    }


@given(st.data())
def test_runs_taken_at_one_stroke_read_as_lines_do(data):
    """A file of full lines, one character of it changed: the same content or the same refusal either way."""
    wide = data.draw(st.sampled_from((16, 20, 32, 255)))
    body = data.draw(st.binary(min_size=wide * 40, max_size=wide * 40))
    start = data.draw(st.sampled_from((0, 0x1230, 0xFF00)))
    lines = [record(0, (start + wide * i) & 0xFFFF, body[wide * i : wide * i + wide]) for i in range(40)]
    end = data.draw(st.sampled_from(("\n", "\r\n")))
    text = end.join([":020000040800F2", *lines, END]) + end
    if data.draw(st.booleans()):
        text = text.lower()
    place = data.draw(st.integers(0, len(text) - 1))
    text = text[:place] + data.draw(st.sampled_from("0123456789ABCDEF:\n\r g")) + text[place + 1 :]

    def outcome() -> object:
        try:
            made = hexfile.read(text.encode(), "a.hex")
        except InputError as error:
            return str(error)
        return made.segments, made.checked

    quick = outcome()
    run, hexfile._run_at = hexfile._run_at, lambda data, position: None
    try:
        assert outcome() == quick
    finally:
        hexfile._run_at = run


def test_runs_are_taken_at_one_stroke(monkeypatch):
    """Else the test above would compare the slow way with itself."""
    taken = []
    take = hexfile._take_run
    monkeypatch.setattr(
        hexfile, "_take_run", lambda state, run, line: taken.append(take(state, run, line)) or taken[-1]
    )
    for end in ("\n", "\r\n"):
        lines = [record(0, 16 * i, bytes(range(i, i + 16))) for i in range(40)]
        read(end.join([*lines, END, ""]).encode(), "a.hex")
    assert taken == [True, True]


def test_line_ends_inside_a_line_of_a_run_are_refused():
    """Found by tests/fuzz: a line as long as the others, but with a line's end in it."""
    lines = [record(0, 16 * i, bytes(16)) for i in range(40)]
    lines[20] = lines[20][:35] + "\r\n:\r\n:\r\n"[:8]
    with pytest.raises(InputError) as caught:
        read("\r\n".join([*lines, END, ""]).encode(), "a.hex")
    assert str(caught.value).startswith("a.hex:21: says 16 data bytes and holds 12")
