"""Bags (RFC 8493) and zips of them: laws."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.errors import AsflownError, Damaged, InputError
from asflown.formats import bag, zipped

PATHS = st.text(st.characters(codec="utf-8", exclude_characters="/\\\0:~"), min_size=1, max_size=12).filter(
    lambda text: text not in (".", "..") and text == text.strip() and text.splitlines() == [text]
)
PAYLOADS = st.dictionaries(PATHS, st.binary(max_size=40), max_size=5)


@given(PAYLOADS)
def test_law_what_was_bagged_comes_out(payload):
    assert bag.check(bag.make(payload, {"External-Identifier": "x"}), "x") == payload


@given(PAYLOADS.filter(bool), st.data())
def test_law_any_changed_byte_is_found(payload, data):
    files = dict(bag.make(payload, {}))
    path = data.draw(st.sampled_from(sorted(files)))
    what = data.draw(st.sampled_from(["change", "drop", "add"]))
    if what == "drop":
        del files[path]
    elif what == "add":
        files["data/more"] = b""
        payload = {k: v for k, v in payload.items() if k != "more"}
        if "more" in bag.check(bag.make(payload, {}), "x"):
            return
        files = {**bag.make(payload, {}), "data/more": b""}
    else:
        files[path] += b"!"
    with pytest.raises(Damaged):
        bag.check(files, "x")


@given(st.dictionaries(PATHS, st.binary(max_size=60)))
def test_law_any_files_are_a_bag_or_a_clear_refusal(files):
    with pytest.raises((Damaged, InputError)) as refused:
        bag.check(files, "x")
    assert refused.value.faults or "is no hand-over" in refused.value.what


@given(PAYLOADS.filter(bool))
def test_law_a_zip_gives_its_files_back_and_is_the_same_each_time(payload):
    assert zipped.unpack(zipped.pack(payload, "folder"), "x.zip") == payload
    assert zipped.pack(payload, "folder") == zipped.pack(payload, "folder")


@given(st.binary(max_size=200), st.integers(0, 400))
def test_law_broken_zips_are_refused_in_words(noise, at):
    good = zipped.pack({"a.txt": b"hello" * 20}, "folder")
    at %= len(good)
    for data in (noise, good[:at], good[:at] + noise + good[at + len(noise) :]):
        with contextlib.suppress(AsflownError):
            assert isinstance(zipped.unpack(data, "x.zip"), dict)


def test_a_zip_that_holds_too_much_is_refused_before_it_is_unpacked():
    data = zipped.pack({"a": b"\0" * 100_000}, "folder")
    with pytest.raises(AsflownError, match="holds more than"):
        zipped.unpack(data, "x.zip", largest=1000)


@pytest.mark.parametrize("path", ["../x", "/etc/x", "a/../../x", "C:/x", "..\\x", "~/x"])
def test_paths_that_lead_out_are_refused(path):
    assert not bag.is_safe(path)
    assert bag.is_safe("a/b..c")
