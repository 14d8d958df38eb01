"""Kept documents: what goes in comes back, equal things give equal bytes, and what is no document says why."""

from __future__ import annotations

import json
import random
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from typing import Any, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.aircraft import Aircraft
from asflown.core.catalog import Release
from asflown.core.plan import Plan
from asflown.core.record import Extent, Key, Moment, Original, Record, Setting
from asflown.core.refit import Refit
from asflown.errors import Damaged, InputError
from asflown.formats import documents

text = st.text(st.characters(codec="utf-8"), max_size=8)
st.register_type_strategy(str, text)
st.register_type_strategy(float, st.floats(allow_nan=False, allow_infinity=False))
st.register_type_strategy(
    Decimal, st.decimals(allow_nan=False, allow_infinity=False, places=None, min_value=-9, max_value=9)
)
KINDS = (Aircraft, Record, Release, Plan, Refit)


def anything(type_: Any) -> st.SearchStrategy[Any]:
    """Any object of a core type, each field by its annotation."""
    hints = get_type_hints(type_)
    return st.builds(type_, **{field.name: by_hint(hints[field.name]) for field in fields(type_)})


def by_hint(hint: Any) -> st.SearchStrategy[Any]:
    if is_dataclass(hint):
        return st.deferred(lambda: anything(hint))
    origin, args = getattr(hint, "__origin__", None), getattr(hint, "__args__", ())
    if origin is tuple and args[-1] is Ellipsis:
        return st.lists(by_hint(args[0]), max_size=2).map(tuple)
    if origin is tuple:
        return st.tuples(*map(by_hint, args))
    if origin is not None and args and origin.__name__ == "Mapping":
        return st.dictionaries(by_hint(args[0]), by_hint(args[1]), max_size=2)
    if args:  # a union
        return st.one_of(*map(by_hint, args))
    if hint is Any or hint is object:
        return st.none() | st.integers(-(2**53), 2**53) | text | st.lists(text, max_size=2)
    return st.from_type(hint)


@pytest.mark.parametrize("type_", KINDS)
@given(data=st.data())
def test_what_goes_in_comes_back_and_equal_things_give_equal_bytes(type_, data):
    thing = data.draw(anything(type_))
    body = documents.dump(thing)
    again = documents.load(body, type_)
    assert again == thing
    assert documents.dump(again) == body


def a_record(**more: Any) -> Record:
    base = Record(
        "wren-001", "wren", "board", Moment.AS_FOUND, "thrush-1.0", None, "2026-03-07T09:12:44+01:00", ()
    )
    return replace(base, **more)


@given(st.dictionaries(text, text, max_size=6), st.integers())
def test_the_order_a_mapping_was_filled_in_does_not_show(banks, seed):
    names = list(banks)
    random.Random(seed).shuffle(names)
    shuffled = {name: banks[name] for name in names}
    assert documents.dump(a_record(active_banks=banks)) == documents.dump(a_record(active_banks=shuffled))


def test_a_document_reads_as_plain_json_with_sorted_keys():
    setting = Setting(Key("tilt.limit", bank="2"), "0.350", 12, "rad")
    body = documents.dump(
        a_record(
            settings=(setting,), extent=Extent.FULL, originals=(Original("0" * 64, 3, "a.txt", "listing"),)
        )
    )
    read = json.loads(body)
    assert (read["asflown"], read["version"]) == ("record", 1)
    assert read["body"]["settings"] == [
        {
            "key": {"bank": "2", "index": None, "name": "tilt.limit"},
            "line": 12,
            "unit": "rad",
            "value": "0.350",
        }
    ]
    assert body == json.dumps(read, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def changed(**more: Any) -> bytes:
    return json.dumps({**json.loads(documents.dump(a_record())), **more}).encode()


@pytest.mark.parametrize(
    "data, says",
    [
        (b"", "no kept document"),
        (b"\xff\xfe", "no kept document"),
        (b"[" * 100_000, "no kept document"),
        (b'{"asflown": "record"}', "version"),
        (changed(asflown="aircraft"), "is a 'aircraft', expected a 'record'"),
        (changed(version=2), "layout version 2"),
        (changed(body={"id": 7}), r"\$.id"),
        (changed(body={**json.loads(documents.dump(a_record()))["body"], "unread": [{"line": 1, "text": 2}]}), r"\$.unread\[0\].text"),
        (changed(body={**json.loads(documents.dump(a_record()))["body"], "moment": "some day"}), r"\$.moment"),
    ],
)  # fmt: skip
def test_what_is_no_document_says_where(data, says):
    with pytest.raises(Damaged, match=says) as caught:
        documents.load(data, Record)
    assert caught.value.where == "record"
    assert caught.value.next_step


@given(st.binary(max_size=200))
def test_any_bytes_are_a_document_or_damaged(data):
    with pytest.raises(Damaged):
        documents.load(data, Record)


@given(st.data())
def test_a_document_with_one_byte_changed_is_a_document_or_damaged(data):
    body = bytearray(documents.dump(a_record(settings=(Setting(Key("tilt"), "5"),))))
    place = data.draw(st.integers(0, len(body) - 1))
    body[place] ^= data.draw(st.integers(1, 255))
    try:
        read = documents.load(bytes(body), Record)
    except Damaged:
        return
    assert documents.load(documents.dump(read), Record) == read


def test_text_that_is_no_utf8_is_refused():
    with pytest.raises(InputError, match="UTF-8"):
        documents.dump(a_record(remarks=("caf\udce9",)))
