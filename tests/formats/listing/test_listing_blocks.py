"""Blocks naming the same things: the line in front of each says which bank it shows."""

from __future__ import annotations

import itertools

import pytest

from asflown.formats.listing import read, write

#: How a block is opened (``{}`` is the choice), the bank it should give, and a line behind the block.
OPENERS = {
    "fw> list bank {}": "bank {}",
    "fw> show profile {}": "profile {}",
    "unit:~$ dump slot {}": "slot {}",
    "# get page {}": "page {}",
    ">select {}": "select {}",
    "!profile={}": "profile {}",
    "@set {}": "set {}",
    "--- {} ---": "{}",
    "[profile:{}]": "profile:{}",
    "<bank {}>": "bank {}",
    "profile = {}": "profile {}",
    "profile: {}": "profile {}",
    "bank {}": "bank {}",
    "bank {}:": "bank {}",
    "*** layer {} ***": "layer {}",
    "// bank {}": "bank {}",
    "# bank {}": "bank {}",
    "Values of bank {} follow": "bank {}",
    "; ---- page {} ----": "page {}",
}
LINES = ["{} = {}", "{}: {}", "{} {}", "put {} {}", "{}={}", "{} : {};"]
VALUES = {
    "gain": ("4", "5", "6"),
    "rate": ("50.0", "60.0", "50.0"),
    "mode": ("slow", "fast", "slow"),
    "tilt": ("-5", "0", "12"),
}


def listing_of(opener: str, line: str, choices: tuple[str, ...]) -> str:
    out = []
    for place, choice in enumerate(choices):
        out.append(opener.format(choice))
        out += [line.format(name, values[place]) for name, values in VALUES.items()]
    if opener.startswith("fw> "):
        out.append("fw>")
    return "\n".join(out) + "\n"


@pytest.mark.parametrize(("opener", "line"), list(itertools.product(OPENERS, LINES)))
def test_each_block_is_a_bank(opener: str, line: str) -> None:
    choices = ("1", "2", "3")
    listing = read(listing_of(opener, line, choices).encode())
    expected = [
        (OPENERS[opener].format(choice), name, values[place])
        for place, choice in enumerate(choices)
        for name, values in VALUES.items()
    ]
    assert [(s.key.bank, s.key.name, s.value) for s in listing.settings] == expected
    assert not listing.repeated
    again = read(write(listing, listing.settings))
    assert {s.key: s.value for s in again.settings} == {s.key: s.value for s in listing.settings}


def test_a_repeat_no_line_explains_stays_a_repeat() -> None:
    listing = read(b"gain = 3\nrate = 4\nmode = slow\n\ngain = 5\nrate = 4\nmode = fast\n")
    assert [r.key for r in listing.repeated] == ["gain", "rate", "mode"]
