"""The whole class of bad input: a clear refusal, or an honest partial reading."""

from __future__ import annotations

import contextlib
import random
import time

import pytest

from asflown.errors import InputError
from asflown.formats.listing import LIMIT, read, write


def test_empty() -> None:
    with pytest.raises(InputError, match="empty"):
        read(b"")


def test_binary() -> None:
    with pytest.raises(InputError, match="binary"):
        read(random.Random(1).randbytes(50_000))


def test_more_than_the_limit_is_refused_at_once() -> None:
    start = time.perf_counter()
    with pytest.raises(InputError, match="limit"):
        read(b"a" * (LIMIT + 1))
    assert time.perf_counter() - start < 1


@pytest.mark.parametrize(
    "unit", [b"a", b" ", b"=", b"\r", b"\x1b[", b"[", b"\"'", b"a ", b"a=", b'\\"', b"{", b".", b"#"]
)
def test_one_huge_line_takes_linear_time(unit: bytes) -> None:
    """300 kB in one line: quadratic work would take minutes."""
    data = unit * (300_000 // len(unit))
    start = time.perf_counter()
    with contextlib.suppress(InputError):
        assert read(data).lossless
    assert time.perf_counter() - start < 20


def test_nul_bytes_are_said_and_left_out() -> None:
    listing = read(b"gain = 3\nrate = 4\x00\nlamp = slow\n" + b"more = 1\n" * 9)
    assert any("NUL" in said for said in listing.complaints)
    assert ("rate", "4") in [(s.key.name, s.value) for s in listing.settings]


def test_mixed_encodings_are_read_line_by_line_and_said() -> None:
    data = "naïve = 1\nüber = 2\n".encode() + "façade = 3\n".encode("latin-1")
    listing = read(data)
    assert [(s.key.name, s.value) for s in listing.settings] == [
        ("naïve", "1"),
        ("über", "2"),
        ("façade", "3"),
    ]
    assert any("mixed encodings" in said for said in listing.complaints)


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "utf-32"]
)
def test_encodings(encoding: str) -> None:
    text = "gain = 3\r\nname = Zoé\r\nlamp = slow\r\n"
    data = text.encode(encoding)
    listing = read(data)
    assert [s.value for s in listing.settings] == ["3", "Zoé", "slow"]
    assert listing.newline == "crlf"
    assert write(listing, listing.settings) == data


def test_a_cut_last_line_is_no_setting() -> None:
    listing = read(b"put gain = 3\nput rate = 4\nput lamp_m")
    assert [s.key.name for s in listing.settings] == ["gain", "rate"]
    assert [(u.line, u.text) for u in listing.not_understood] == [(3, "put lamp_m")]
    assert any("cut" in said for said in listing.complaints)


def test_pinned_shape_that_fits_nothing_names_the_nearest_line() -> None:
    with pytest.raises(InputError, match="line 2: 'let rate = 4'"):
        read(b"hello\nlet rate = 4\n", shape="let {name} := {value}")


@pytest.mark.parametrize("shape", ["", "{value}", "{name}{value}", "{name} {nme}", "{name} {name}"])
def test_wrong_patterns_are_refused(shape: str) -> None:
    with pytest.raises(InputError):
        read(b"a = 1\n", shape=shape)


def test_pinned_shape_is_obeyed() -> None:
    data = b"put gain = 3 volts\nget gain\nput rate = 4 volts\n"
    listing = read(data, shape="put {name} = {value} {unit}")
    assert [(s.key.name, s.value, s.unit) for s in listing.settings] == [
        ("gain", "3", "volts"),
        ("rate", "4", "volts"),
    ]


def test_repeats_can_be_refused() -> None:
    with pytest.raises(InputError, match="more than once"):
        read(b"gain = 3\ngain = 4\n", repeated="refuse")


def test_a_value_the_shape_cannot_carry_is_named() -> None:
    from asflown.core.record import Key, Setting

    listing = read(b"put gain 3\nput rate 4\nput lamp slow\n")
    with pytest.raises(InputError, match="1 setting"):
        write(listing, [Setting(Key("two words"), "3")])
