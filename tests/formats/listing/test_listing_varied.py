"""Listings of very different character are read exactly, and written back or refused."""

from __future__ import annotations

import pytest
from varied_listings import CASES, Row

from asflown.errors import InputError
from asflown.formats.listing import read, write

#: Not read exactly so far; a case that comes to be read must be taken out here.
NOT_YET = {"nmea config", "s-expressions", "plist", "vim toggles"}
#: Read exactly; writing in that shape is refused.
READ_ONLY = {"column per bank"}


@pytest.mark.parametrize(("name", "text", "expected"), CASES, ids=[case[0] for case in CASES])
def test_varied_listing(name: str, text: str, expected: list[Row]) -> None:
    listing = read(text.encode())
    got = [(s.key.bank, s.key.name, s.key.index, s.value) for s in listing.settings]
    assert listing.lossless
    assert (sorted(map(str, got)) == sorted(map(str, expected))) is (name not in NOT_YET), got
    try:
        again = read(write(listing, listing.settings))
    except InputError:
        assert name in NOT_YET | READ_ONLY
        return
    assert {s.key: s.value for s in again.settings} == {s.key: s.value for s in listing.settings}


@pytest.mark.parametrize(
    "text",
    [
        "Parameter   Bank A   Bank B\ngain         4        5\nrate         50       60\n",
        "name,Bank A,Bank B,unit\ngain,4,5,\nrate,50,60,Hz\n",
        "| name | Bank A | Bank B |\n|------|--------|--------|\n| gain | 4 | 5 |\n| rate | 50 | 60 |\n",
    ],
)
def test_a_column_for_each_bank(text: str) -> None:
    listing = read(text.encode())
    got = [(s.key.bank, s.key.name, s.value) for s in listing.settings]
    assert got == [
        ("Bank A", "gain", "4"),
        ("Bank B", "gain", "5"),
        ("Bank A", "rate", "50"),
        ("Bank B", "rate", "60"),
    ]
    with pytest.raises(InputError, match="a column for each bank"):
        write(listing, listing.settings)
