"""Seeded changes to valid files, and inputs made of nothing but structure or chance."""

from __future__ import annotations

import random
import re

TOKENS = [
    b"[", b"]", b"{", b"}", b'"', b"'", b"=", b",", b":", b"\n", b"\r\n", b"#", b"\\u0000", b"\x00", b"\xff", b"nan", b"inf", b"NaN",
    b"-Infinity", b"true", b"null", b"1e999999999", b"-0", b"0x10", b"9" * 40, b"9" * 5000, b"1.5", b"old", b'"""', b"[[change]]",
    b"[parameter.x]", b"2026-03-07T09:12:44Z", b"\xef\xbb\xbf", b"\xf0\x9f\x90\xa6", b"=1|", b"(" * 60, b"old / 0", b"1_0",
]  # fmt: skip


def mutated(random_: random.Random, data: bytes) -> bytes:
    """A valid file after one to four changes."""
    for _ in range(random_.choice((1, 1, 1, 1, 1, 2, 4))):
        data = random_.choice(CHANGES)(random_, data)
    return data


def _flip(random_: random.Random, data: bytes) -> bytes:
    at = random_.randrange(len(data) or 1)
    return data[:at] + bytes([random_.randrange(256)]) + data[at + 1 :]


def _insert(random_: random.Random, data: bytes) -> bytes:
    at = random_.randrange(len(data) + 1)
    return data[:at] + random_.choice(TOKENS) + data[at:]


def _cut(random_: random.Random, data: bytes) -> bytes:
    at = random_.randrange(len(data) + 1)
    return data[:at] if random_.random() < 0.3 else data[:at] + data[at + random_.randrange(12) :]


def _lines(random_: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    at, to = random_.randrange(len(lines)), random_.randrange(len(lines))
    match random_.randrange(3):
        case 0:
            del lines[at]
        case 1:
            lines.insert(to, lines[at])
        case _:
            lines[at], lines[to] = lines[to], lines[at]
    return b"\n".join(lines)


def _swap_tokens(random_: random.Random, data: bytes) -> bytes:
    parts = re.split(rb"(\W+)", data)
    at, to = random_.randrange(len(parts)), random_.randrange(len(parts))
    parts[at], parts[to] = parts[to], parts[at]
    return b"".join(parts)


def _replace_token(random_: random.Random, data: bytes) -> bytes:
    parts = re.split(rb"(\W+)", data)
    parts[random_.randrange(len(parts))] = random_.choice(TOKENS)
    return b"".join(parts)


def _number(random_: random.Random, data: bytes) -> bytes:
    spots = list(re.finditer(rb"\d+(\.\d+)?", data))
    if not spots:
        return data
    spot = random_.choice(spots)
    other = random_.choice((b"0", b"-1", b"1e40", b"1e-40", b"255", b"65", b"3.14159", b'"7"', b"[]", b"{}"))
    return data[: spot.start()] + other + data[spot.end() :]


def _nest(random_: random.Random, data: bytes) -> bytes:
    depth = random_.choice((3, 30, 3000))
    at = random_.randrange(len(data) + 1)
    return data[:at] + b"[" * depth + data[at:] + b"]" * depth


CHANGES = (_flip, _insert, _cut, _lines, _lines, _swap_tokens, _replace_token, _number, _nest)


def made_up(random_: random.Random) -> bytes:
    """Bytes by chance, or tokens of the trade in any order."""
    kind = random_.randrange(4)
    if kind == 0:
        return random_.randbytes(random_.randrange(200))
    if kind == 1:
        return b" ".join(random_.choice(TOKENS) for _ in range(random_.randrange(30)))
    words = [
        b"name",
        b"kind",
        b"old",
        b"new",
        b"rename",
        b"consequence",
        b"parameters",
        b"version",
        b"type",
        b"from",
        b"to",
        b"id",
    ]
    values = [b'"a"', b"1", b"[]", b"{}", b"1.5", b"true", b'["a", "b"]', b'"Float"', b'"safety"', b'"x[1]"']
    pairs = [(random_.choice(words), random_.choice(values)) for _ in range(random_.randrange(8))]
    if kind == 2:
        heads = [b"", b"[[change]]\n", b"[all]\n", b"[motors]\n", b"[[device]]\n", b"[parameter.a]\n"]
        return b"".join(random_.choice(heads) + key + b" = " + value + b"\n" for key, value in pairs)
    inner = b"{" + b", ".join(b'"%s": %s' % pair for pair in pairs) + b"}"
    return random_.choice((b"[%s]", b'{"version": 1, "parameters": [%s]}', b"%s")) % inner
