"""What is private leaves no trace in a reduced listing, whatever its encoding and wherever it stands."""

from __future__ import annotations

import pytest
from memory_store import MemoryStore, TickingClock

from asflown.app.private import Private
from asflown.app.reduced import reduced_record
from asflown.core.record import Moment, Record
from asflown.formats import listing

PRIVATE = Private(
    frozenset({"home.lat", "home.lon"}),
    {"Ines Abreu": "person 1", "ines": "person 2"},
    frozenset({"53.4721"}),
)
LINES = [
    "# set up by Ines Abreu at home",
    "> dump",
    "[main]",
    "tilt.max = 50",
    "home.lat = 53.4721",
    "home.lon = -1",
    "idle.speed = 0.05",
    "craft.title = ines",
    "what is this ines",
    "[second]",
    "tilt.max = 40",
    "lamp.on = 1",
    "lamp.hue = 120",
]


def reduced(
    text: str, encoding: str = "utf-8", private: Private = PRIVATE
) -> tuple[Record, tuple[bytes, ...]]:
    store = MemoryStore(TickingClock())
    data = text.encode(encoding)
    original = store.keep(data, name="before.txt", kind="listing")
    read = listing.read(data)
    record = Record(
        "plover-001", "plover", "board", Moment.AS_FOUND, None, None, "2026-03-07T09:00:00Z", read.settings,
        originals=(original,), unread=read.not_understood, remarks=("ines read it",),
    )  # fmt: skip
    return reduced_record(store, record, private)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_a_listing_is_cut_in_its_own_encoding(encoding, newline):
    record, listings = reduced(newline.join(LINES) + newline, encoding)
    assert [str(s.key) for s in record.settings] == [
        "main/tilt.max",
        "main/idle.speed",
        "second/tilt.max",
        "second/lamp.on",
        "second/lamp.hue",
    ]
    assert record.remarks == ("person 2 read it", "3 private settings were left out at the hand-over")
    [data] = listings
    text = data.decode(encoding)
    for secret in ("Ines", "ines", "53.4721", "home", "dump", "what is this"):
        assert secret not in text
    assert {str(s.key): s.value for s in listing.read(data).settings} == {
        str(s.key): s.value for s in record.settings
    }
    assert record.originals[0].size == len(data)


def test_without_anything_private_the_settings_stay_as_they_were():
    text = "tilt.max = 50\nidle.speed = 0.05\nlamp.on = 1\n"
    record, [data] = reduced(text)
    assert data == text.encode()
    assert len(record.settings) == 3
    assert record.remarks == ("person 2 read it",)


def test_two_settings_on_one_line_are_not_cut_apart():
    """The line of a private setting also holds another one: the listing is left out whole, the record is not."""
    text = "".join(
        f"set {a} 1 {b} 2\n" for a, b in [("tilt", "yaw"), ("lamp", "hue"), ("home.lat", "gain"), ("a", "b")]
    )
    read = listing.read(text.encode())
    record, listings = reduced(text)
    assert "home.lat" not in {s.key.name for s in record.settings}
    for data in listings:
        assert b"home.lat" not in data
    assert len(record.settings) == len(read.settings) - sum(PRIVATE.hides(s) for s in read.settings)


def test_a_value_told_in_a_line_that_stays_keeps_the_listing_back():
    text = "tilt.max = 50\nhome.lat = 53.4721\nnote.text = 53.4721\nlamp.on = 1\nidle.speed = 0.05\n"
    record, listings = reduced(text)
    assert listings == ()
    assert record.originals == ()
