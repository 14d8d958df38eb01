"""Image files broken on purpose: small valid ones, changed so that many still get past their first check."""

from __future__ import annotations

import random
import re
import struct
from dataclasses import dataclass
from pathlib import Path

import mutations

from asflown.core.image.model import Suffix
from asflown.formats.image import suffix

MADE = Path(__file__).parents[1] / "formats" / "image"
HEX, ELF, RAW = ((MADE / f"blink.{end}").read_bytes() for end in ("hex", "elf", "bin"))
EXTREMES = (0, 1, 0x7F, 0xFF, 0x100, 0x7FFF, 0xFFFF, 0x10000, 0x7FFFFFFF, 0x80000000, 0xFFFFFFF0, 0xFFFFFFFF)


def record(kind: int, offset: int, body: bytes) -> bytes:
    """A line of an Intel HEX file, its checksum right."""
    made = bytes([len(body), offset >> 8, offset & 255, kind]) + body
    return b":%s%02X" % (made.hex().upper().encode(), -sum(made) & 255)


def block(address: int, body: bytes, number: int, count: int, flags: int = 0x2000) -> bytes:
    """A block of a UF2 file."""
    head = struct.pack("<8I", 0x0A324655, 0x9E5D5157, flags, address, len(body), number, count, 0x57755A57)
    return head + body.ljust(476, b"\0") + struct.pack("<I", 0x0AB16F30)


def _far_hex() -> bytes:
    """Two bytes here, two bytes there, over the whole address space."""
    lines = []
    for high in range(0, 0x10000, 0x199):
        lines += [record(4, 0, high.to_bytes(2, "big")), record(0, high & 0xFFF0, b"\x11\x22")]
    return b"\n".join([*lines, record(1, 0, b""), b""])


def _long_hex() -> bytes:
    """Lines that are taken many at a time."""
    body = (RAW * 8)[:8192]
    lines = [record(0, at, body[at : at + 32]) for at in range(0, len(body), 32)]
    return b"\r\n".join([record(4, 0, b"\x08\x00"), *lines, record(1, 0, b""), b""])


def _uf2() -> bytes:
    parts = [RAW[at : at + 256] for at in range(0, len(RAW), 256)]
    return b"".join(block(0x08000000 + 256 * n, part, n, len(parts)) for n, part in enumerate(parts))


def _far_uf2() -> bytes:
    return b"".join(block(0x07FFFFFF * n & 0xFFFFFF00, RAW[:4], n, 32) for n in range(32))


def _many_segments() -> bytes:
    """An ELF with 256 load segments, far from each other."""
    head = (
        b"\x7fELF\1\1\1"
        + bytes(9)
        + struct.pack("<HHIIIIIHHHHHH", 2, 40, 1, 0x08000401, 52, 0, 0x5000000, 52, 32, 256, 0, 0, 0)
    )
    at = 52 + 32 * 256
    heads = [struct.pack("<8I", 1, at + 4 * n, n << 24, n << 24, 4, 4, 5, 4) for n in range(256)]
    return head + b"".join(heads) + RAW[:1024]


_TAIL = Suffix(0x0483, 0xDF11, 0x0200, 0x0100)
VALID = {
    "HEX": HEX, "HEX, long": _long_hex(), "HEX, far apart": _far_hex(), "ELF": ELF, "ELF, 256 segments": _many_segments(),
    "UF2": _uf2(), "UF2, far apart": _far_uf2(), "raw": RAW, "raw, suffix": suffix.with_suffix(RAW, _TAIL),
    "HEX, suffix": suffix.with_suffix(HEX, _TAIL), "ELF, suffix": suffix.with_suffix(ELF, _TAIL),
}  # fmt: skip


@dataclass(frozen=True)
class Broken:
    """An input, the valid file it comes from (or ``made up``), and what was done to it."""

    of: str
    how: str
    data: bytes


def broken(chance: random.Random, turn: int) -> Broken:
    """Two of three are changed by the container's own rules, the rest anyhow; every eighth is made up."""
    if turn % 8 == 7:
        return Broken("made up", "made up", _made_up(chance))
    names = tuple(VALID)
    of = names[turn % len(names)]
    data, tail = VALID[of], of.endswith("suffix")
    if tail:
        data = data[: -suffix.LENGTH]
    how = "anyhow" if chance.random() < 0.33 else "by its rules"
    for _ in range(chance.choice((1, 1, 1, 2, 4, 9))):
        data = mutations.mutated(chance, data) if how == "anyhow" else _by_its_rules(chance, data)
    return Broken(of, how, _suffixed(chance, data) if tail else data)


def _by_its_rules(chance: random.Random, data: bytes) -> bytes:
    if data[:1] == b":":
        return _hex_changed(chance, data)
    if data[:4] == b"UF2\n":
        return _words_changed(chance, data, (8, 12, 16, 20, 24, 28, 32, 508), 512)
    if data[:4] == b"\x7fELF":
        return _elf_changed(chance, data)
    return _words_changed(chance, data, (0, 4, 8, 28, 64, 1024, 1056), len(data) or 1)


def _hex_changed(chance: random.Random, data: bytes) -> bytes:
    """One record changed, put in, doubled or moved; its checksum made right."""
    lines = re.split(rb"\r?\n", data)
    at = chance.randrange(len(lines))
    match chance.randrange(5):
        case 0:
            kind = chance.choice((2, 4, 4, 4, 3, 5, 6, 255))
            body = chance.choice(EXTREMES).to_bytes(4, "big")[-2 if kind in (2, 4) else -4 :]
            lines.insert(at, record(kind, 0, body))
        case 1:
            size = chance.choice((0, 1, 2, 16, 32, 255))
            lines.insert(at, record(0, chance.choice(EXTREMES) & 0xFFFF, chance.randbytes(size)))
        case 2:
            lines.insert(chance.randrange(len(lines)), lines[at])
        case 3:
            other = chance.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        case _:
            try:
                old = bytes.fromhex(lines[at][1:].decode("ascii"))
            except ValueError:
                old = b""
            body = bytearray(old[4:-1])
            if body:
                body[chance.randrange(len(body))] = chance.randrange(256)
                lines[at] = record(old[3], old[1] << 8 | old[2], bytes(body))
    return chance.choice((b"\n", b"\r\n")).join(lines)


def _words_changed(chance: random.Random, data: bytes, places: tuple[int, ...], step: int) -> bytes:
    """A 32-bit word, or a byte of it, at one of the places of one of the blocks."""
    at = step * chance.randrange(max(1, len(data) // step)) + chance.choice(places)
    if at + 4 > len(data):
        return data
    value = chance.choice((*EXTREMES, chance.randrange(64), chance.getrandbits(32), 0x08000000, 0x20010000))
    wide = chance.choice((1, 2, 4))
    return data[:at] + value.to_bytes(4, "little")[:wide] + data[at + wide :]


def _elf_changed(chance: random.Random, data: bytes) -> bytes:
    if chance.random() < 0.4:  # the file's own header
        return _words_changed(chance, data, tuple(range(4, 52, 2)), len(data) or 1)
    start, count = (int.from_bytes(data[at : at + size], "little") for at, size in ((28, 4), (44, 2)))
    at = start + 32 * chance.randrange(max(1, min(count, 256))) + 4 * chance.randrange(8)
    if at + 4 > len(data):
        return data
    value = chance.choice((*EXTREMES, 52, len(data) - 1, len(data), 0x08000000, chance.getrandbits(32)))
    return data[:at] + value.to_bytes(4, "little") + data[at + 4 :]


def _suffixed(chance: random.Random, data: bytes) -> bytes:
    """With a suffix, changed in one case of three; its CRC made right in two of three."""
    made = bytearray(suffix.with_suffix(data, _TAIL))
    if chance.random() < 0.33:
        made[-chance.randrange(1, 17)] = chance.randrange(256)
        if chance.random() < 0.66:
            made[-4:] = suffix.crc(bytes(made[:-4])).to_bytes(4, "little")
    return bytes(made)


def _made_up(chance: random.Random) -> bytes:
    head = chance.choice(
        (b"", b":", b":10", b":020000040800F2\n:", b"\x7fELF", b"\x7fELF\1\1\1", b"UF2\n", b"DfuSe", RAW[:8])
    )
    kind = chance.randrange(3)
    if kind == 0:
        return head + chance.randbytes(chance.choice((0, 3, 64, 512, 4096)))
    if kind == 1:
        figures = bytes(chance.choice(b"0123456789abcdefABCDEF:\n") for _ in range(chance.randrange(600)))
        return head + figures
    return head + mutations.made_up(chance)
