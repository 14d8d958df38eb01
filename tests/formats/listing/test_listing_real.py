"""Listings of unrelated real programs, exact against an independent way of taking them apart (real/SOURCES.md)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from asflown.formats.listing import read, write

REAL = Path(__file__).parent / "real"
NAMES = sorted(path.name.removesuffix(".expected.json") for path in REAL.glob("*.expected.json"))
#: Lines a person must settle; every other file has none.
NOT_UNDERSTOOD = {"filesystem-superblock.txt": [1], "terminal-line.txt": [5, 6, 7, 8, 9, 10]}


def test_there_are_at_least_fifteen_programs() -> None:
    assert len(NAMES) >= 29


@pytest.mark.parametrize("name", NAMES)
def test_reads_exactly(name: str) -> None:
    listing = read((REAL / name).read_bytes())
    got = [[s.key.bank, s.key.name, s.key.index, s.value] for s in listing.settings]
    assert got == json.loads((REAL / f"{name}.expected.json").read_text())
    assert [line.line for line in listing.not_understood] == NOT_UNDERSTOOD.get(name, [])
    assert listing.lossless


@pytest.mark.parametrize("name", NAMES)
def test_writes_what_reads_back_the_same(name: str) -> None:
    listing = read((REAL / name).read_bytes())
    again = read(write(listing, listing.settings))
    one = {s.key: s.value for s in listing.settings}
    assert {s.key: s.value for s in again.settings} == one
    assert not again.not_understood


def test_units_of_a_memory_report() -> None:
    listing = read((REAL / "memory.txt").read_bytes())
    printed = [line.split() for line in (REAL / "memory.txt").read_text().splitlines()]
    assert [s.unit for s in listing.settings] == [words[2] if len(words) > 2 else None for words in printed]
