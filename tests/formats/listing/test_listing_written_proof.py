"""What is written reads back the same, or is refused: also for listings that were damaged."""

from __future__ import annotations

import random

import pytest
from line_grammars import draw, render

from asflown.core.record import Key, Setting
from asflown.errors import InputError
from asflown.formats.listing import read, write


def damaged(r: random.Random, data: bytes) -> bytes:
    """A file with some bytes or lines lost, doubled or changed."""
    raw = bytearray(data)
    for _ in range(r.choice([1, 1, 2, 4])):
        start = r.randrange(len(raw) + 1)
        end = min(len(raw), start + r.choice([1, 3, 20, 80]))
        kind = r.randrange(4)
        if kind == 0:
            del raw[start:end]
        elif kind == 1:
            raw[start:start] = raw[end : end + 40]
        elif kind == 2 and start < len(raw):
            raw[start] = r.randrange(256)
        else:
            raw[start:start] = r.choice(
                [b"=", b"\n\n", b"[x]\n", b'"', b" # ", b"\x1b[0m", b"\0", b"}", b"\t", b"> "]
            )
    return bytes(raw)


def test_a_damaged_listing_is_written_truly_or_refused() -> None:
    true = refused = 0
    for seed in range(300):
        r = random.Random(seed)
        try:
            listing = read(damaged(r, render(draw(90_000 + seed))))
        except InputError:
            continue
        if not listing.settings:
            continue
        try:
            again = read(write(listing, listing.settings))
        except InputError:
            refused += 1
            continue
        assert {s.key: s.value for s in again.settings} == {s.key: s.value for s in listing.settings}, seed
        true += 1
    assert true > 200
    assert refused < 0.1 * true


def test_what_would_not_come_back_is_named() -> None:
    listing = read(b"gain = 3\nrate = 4\nlamp = slow\nmode = fast\n")
    with pytest.raises(InputError) as told:
        write(listing, [*listing.settings, Setting(Key("mast = heel"), "5")])
    assert "mast = heel" in str(told.value.faults[0])


def test_a_pinned_listing_is_proven_with_its_pin() -> None:
    listing = read(b"put gain: 3\nput a b: 4\n", shape="put {name}: {value}")
    assert write(listing, listing.settings) == b"put gain: 3\nput a b: 4\n"
