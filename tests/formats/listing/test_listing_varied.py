"""Listings of very different character are read exactly, and written back or refused."""

from __future__ import annotations

import pytest
from varied_listings import CASES, Row

from asflown.errors import InputError
from asflown.formats.listing import read, write

#: Not read exactly so far; a case that comes to be read must be taken out here.
NOT_YET = {"nmea config", "s-expressions", "plist", "column per bank", "vim toggles"}


@pytest.mark.parametrize(("name", "text", "expected"), CASES, ids=[case[0] for case in CASES])
def test_varied_listing(name: str, text: str, expected: list[Row]) -> None:
    listing = read(text.encode())
    got = [(s.key.bank, s.key.name, s.key.index, s.value) for s in listing.settings]
    assert listing.lossless
    assert (sorted(map(str, got)) == sorted(map(str, expected))) is (name not in NOT_YET), got
    try:
        again = read(write(listing, listing.settings))
    except InputError:
        assert name in NOT_YET
        return
    assert {s.key: s.value for s in again.settings} == {s.key: s.value for s in listing.settings}
