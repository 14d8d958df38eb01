"""Inputs for fuzzing: mutations of valid files, and files made up of words, numbers and chance."""

from __future__ import annotations

import json
import lzma
import random
import re
from collections.abc import Callable

#: Longest input, bytes.
LONGEST = 20_000

# -- mutations ----------------------------------------------------------------------------------------------

_TOKENS = [
    b"=", b"[", b"]", b"[[", b"]]", b"{", b"}", b'"', b"'", b'"""', b"'''", b"\\", b"\n", b"\r\n", b"\r",
    b"\t",
    b",", b":", b"#", b"\x00", b"\\u0000", b"\\ud800", b"\\udc00\\ud800", b"\xff", b"\xef\xbb\xbf",
    b"\x1b[2J",
    b"\xed\xa0\x80", "µ°→🐦".encode(), "\u2028\u0085\u200b".encode(), b"name", b"old", b"kind", b"[[change]]",
    b"[parameter.x]", b"true", b"null", b"2026-03-07T09:12:44Z", b"--More--", b"\x0c", b"a." * 60, b" " *
    3000,
]  # fmt: skip
_NUMBERS = [
    b"0", b"-0", b"-1", b"255", b"256", b"65536", b"4294967296", b"18446744073709551616", b"1e40",
    b"1e-40", b"1e400",
    b"-1e999999999", b"1e99999999999999999999", b"nan", b"inf", b"-inf", b"NaN", b"Infinity", b"0x10",
    b"0xffffffffffff",
    b"0x" + b"f" * 5000, b"9" * 50, b"9" * 5000, b"0." + b"0" * 500 + b"1", b"1_0", b"0b1", b"1.", b".5",
    b"007", b"1e", b"-",
]  # fmt: skip


def mutated(data: bytes, rng: random.Random) -> bytes:
    """One to five random edits of a valid file."""
    if data.startswith(b"\xfd7zXZ") and rng.random() < 0.7:
        return _repack(data, rng)
    for _ in range(rng.choice((1, 1, 1, 1, 1, 2, 4))):
        data = rng.choice(_EDITS)(data, rng)
    return data[:LONGEST]


def _flip(data: bytes, rng: random.Random) -> bytes:
    if not data:
        return data
    at = rng.randrange(len(data))
    return data[:at] + bytes([data[at] ^ (1 << rng.randrange(8))]) + data[at + 1 :]


def _insert(data: bytes, rng: random.Random) -> bytes:
    at = rng.randint(0, len(data))
    return data[:at] + rng.choice(_TOKENS) + data[at:]


def _delete(data: bytes, rng: random.Random) -> bytes:
    at = rng.randint(0, len(data))
    return data[:at] + data[at + rng.randint(1, 40) :]


def _lines(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    way = rng.randrange(3)
    if way == 0:
        lines.insert(j, lines[i])
    elif way == 1:
        del lines[i]
    else:
        lines[i], lines[j] = lines[j], lines[i]
    return b"\n".join(lines)


def _swap(data: bytes, rng: random.Random) -> bytes:
    parts = re.split(rb"(\W+)", data)
    i, j = rng.randrange(len(parts)), rng.randrange(len(parts))
    parts[i], parts[j] = parts[j], parts[i]
    return b"".join(parts)


def _extreme(data: bytes, rng: random.Random) -> bytes:
    spots = list(re.finditer(rb"-?\d+(?:\.\d+)?", data))
    if not spots:
        return data
    spot = rng.choice(spots)
    return data[: spot.start()] + rng.choice(_NUMBERS) + data[spot.end() :]


def _other_type(data: bytes, rng: random.Random) -> bytes:
    """A quoted text, a number or a word becomes a value of another type."""
    spots = list(re.finditer(rb'"[^"\n]*"|-?\d+(?:\.\d+)?|true|false', data))
    if not spots:
        return data
    spot = rng.choice(spots)
    other = rng.choice((b"[]", b"{}", b"[1]", b'{"a": 1}', b"{a = 1}", b'""', b'"7"', b"7", b"true", b"null"))
    return data[: spot.start()] + other + data[spot.end() :]


def _nest(data: bytes, rng: random.Random) -> bytes:
    at, depth = rng.randint(0, len(data)), rng.choice((3, 100, 950, 3000))
    left, right = rng.choice(((b"[", b"]"), (b'{"a":', b"}"), (b"{a=", b"}"), (b"(", b")"), (b'"', b'"')))
    return data[:at] + left * depth + b"1" + right * depth + data[at:]


def _cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randint(0, len(data))]


def _recode(data: bytes, rng: random.Random) -> bytes:
    try:
        return data.decode().encode(
            rng.choice(["utf-16", "utf-16-le", "utf-32", "latin-1", "utf-8-sig", "cp037"])
        )
    except UnicodeError:
        return data


def _repack(data: bytes, rng: random.Random) -> bytes:
    """Change what is inside a packed file, not the packing."""
    if not data.startswith(b"\xfd7zXZ"):
        return _flip(data, rng)
    try:
        return lzma.compress(mutated(lzma.decompress(data), rng))
    except lzma.LZMAError:
        return data


_EDITS: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _flip, _insert, _delete, _lines, _lines, _swap, _extreme, _extreme, _other_type, _nest, _cut, _recode,
    _repack,
)  # fmt: skip

# -- made up ------------------------------------------------------------------------------------------------

_WORDS = [
    "name", "kind", "old", "new", "from", "to", "id", "title", "version", "type", "min", "max", "default",
    "values",
    "choices", "rename", "convert", "factor", "consequence", "safety", "parameters", "Float", "Uint8",
    "firmware", "a", "b",
    "gain", "tilt.limit", "set 1", "bitmask", "index", "value", "description", "decimalPlaces",
    "decimals", "group", "needs",
]  # fmt: skip
_HEADS = [
    "[[change]]",
    "[motors]",
    "[[device]]",
    "[parameter.a]",
    "[all]",
    "[a.b.c]",
    "[[a.b]]",
    "[set 1]",
    "# set 1",
]


def invented(rng: random.Random) -> bytes:
    """Random bytes, random tokens, or a document of a random kind with words of the trade in it."""
    return rng.choice(_KINDS)(rng)[:LONGEST]


def _chance(rng: random.Random) -> bytes:
    return rng.randbytes(rng.randint(0, 400))


def _soup(rng: random.Random) -> bytes:
    words = [*_TOKENS, *_NUMBERS, b" ", b"\n", b"\n", b" = ", *(word.encode() for word in _WORDS)]
    return b"".join(rng.choice(words) for _ in range(rng.randint(1, 150)))


def _json_text(rng: random.Random) -> bytes:
    return _tree(rng, 0)


def _tree(rng: random.Random, depth: int) -> bytes:
    way = rng.randrange(3 if depth == 0 else 8)
    if way == 0 and depth < 6:
        return b"[" + b", ".join(_tree(rng, depth + 1) for _ in range(rng.randrange(5))) + b"]"
    if way in (1, 2) and depth < 6:
        keys = rng.sample(_WORDS, rng.randrange(5)) + (["version", "parameters"] if depth == 0 else [])
        return b"{" + b", ".join(b'"%s": %s' % (key.encode(), _tree(rng, depth + 1)) for key in keys) + b"}"
    if way in (3, 4):
        return rng.choice(_NUMBERS)
    if way == 5:
        return rng.choice((b"true", b"false", b"null"))
    return json.dumps(rng.choice(_WORDS)).encode()


def _toml_text(rng: random.Random) -> bytes:
    lines = []
    for _ in range(rng.randint(1, 20)):
        if rng.random() < 0.2:
            lines.append(rng.choice(_HEADS).encode())
        else:
            key = rng.choice(_WORDS).encode()
            lines.append(
                (b'"%s" = %s' if b" " in key else b"%s = %s") % (key, _tree(rng, 1).replace(b": ", b" = "))
            )
    return b"\n".join(lines)


def _rows(rng: random.Random) -> bytes:
    sign = rng.choice((b",", b";", b"\t", b" ", b" = ", b": ", b" | ", b"  "))
    width = rng.randint(1, 6)
    cells: list[bytes] = [*_NUMBERS, *(word.encode() for word in _WORDS), b"", b'"x"', b'"', b"a b"]
    head = sign.join(word.encode() for word in ["name", *rng.sample(_WORDS, width - 1)])
    body = [sign.join(rng.choice(cells) for _ in range(width)) for _ in range(rng.randrange(30))]
    return b"\n".join([head, *body]) + rng.choice((b"", b"\n"))


_KINDS: tuple[Callable[[random.Random], bytes], ...] = (_chance, _soup, _json_text, _toml_text, _rows)
