"""Names and numbers as matching reads them."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.carry.matching.abbreviation import holds_in_order, word_likeness
from asflown.core.carry.matching.quantity import measure, quantity_of, unit_of
from asflown.core.carry.matching.systematic import change_between
from asflown.core.carry.matching.words import Splitter, raw_words, stem
from asflown.core.catalog import ParameterDef


@given(st.text())
def test_words_are_made_of_the_texts_own_letters(text):
    kept = "".join(c for c in text.casefold() if c.isalnum())
    assert set("".join(raw_words(text))) <= set(kept)
    assert all(words == words.casefold() for words in raw_words(text))


@given(st.from_regex(r"[a-z]{1,14}", fullmatch=True))
def test_a_stem_is_the_words_beginning_or_its_y(word):
    made = stem(word)
    assert made
    assert word.startswith(made) or (made.endswith("y") and word.startswith(made[:-1]))


def test_a_joined_word_is_parted_where_its_parts_are_used():
    splitter = Splitter([("rate", "limit"), ("limit",), ("rate",), ("ratelimit",)], Counter())
    assert splitter.split("ratelimit") == ("rate", "limit")
    assert splitter.split("limitless") == ("limitless",)


def test_abbreviations_and_spellings_stand_for_one_another():
    words = sorted(["voltage", "vlt", "volt", "colour", "color", "pitch", "roll"])
    table = word_likeness(words).toarray()
    at = {word: k for k, word in enumerate(words)}

    def like(a, b):
        return table[at[a], at[b]]

    assert (table == table.T).all()
    assert all(like(w, w) == 1 for w in words)
    assert like("vlt", "voltage") > 0.5
    assert like("colour", "color") > 0.5
    assert like("pitch", "roll") == 0


@given(st.text("abc", max_size=4), st.text("abc", max_size=8))
def test_letters_in_order_by_their_definition(short, long):
    import itertools

    by_definition = any("".join(part) == short for part in itertools.combinations(long, len(short)))
    assert holds_in_order(short, long) == by_definition


@given(st.lists(st.sampled_from("abcd"), max_size=5), st.lists(st.sampled_from("abcd"), max_size=5))
def test_a_change_turns_the_old_name_into_the_new_one(old, new):
    change = change_between(old, new)
    gone, come = list(change.gone), list(change.come)
    places = range(len(old) - len(gone) + 1)
    assert any(
        old[k : k + len(gone)] == gone and old[:k] + come + old[k + len(gone) :] == new for k in places
    )


#: Factors of the SI Brochure (9th edition, 2019, tables 7 and 8) and IEC 80000-13 for data.
@pytest.mark.parametrize(
    ("text", "dimension", "factor"),
    [("ms", "time", 1e-3), ("min", "time", 60), ("h", "time", 3600), ("d", "time", 86400), ("km/h", "speed", 1 / 3.6),
     ("KiB", "data", 1024), ("MiB", "data", 1024**2), ("%", "number", 0.01)],
)  # fmt: skip
def test_units_of_amounts(text, dimension, factor):
    found = measure(text)
    assert found is not None
    assert found.dimension == dimension
    assert found.factor == pytest.approx(factor)


@pytest.mark.parametrize(
    ("name", "unit", "description", "dimension"),
    [
        ("wait", "ms", None, "time"),
        ("wait_ms", None, None, "time"),
        ("wait", None, "How long to wait, in seconds.", "time"),
        ("wait", None, "How long to wait (ms).", "time"),
        ("sink", None, "how fast (m/s)", "speed"),
        ("drop_in", None, None, None),
        ("wait", None, "the first second one", None),
        ("wait", "0.1s", None, "time"),
        ("wait", None, "How long to wait (0.1s)", "time"),
        ("wait", None, "How long to wait (10ms)", None),
    ],
)
def test_the_unit_is_told_from_what_states_it(name, unit, description, dimension):
    found = unit_of(ParameterDef(name, unit=unit, description=description))
    assert (found.dimension if found else None) == dimension


def test_the_same_amount_in_other_units():
    a = quantity_of("5000", unit_of(ParameterDef("wait_ms", default="5000")))
    b = quantity_of("5 s", None)
    assert a is not None
    assert b is not None
    assert (a.dimension, a.base) == (b.dimension, pytest.approx(b.base))
    assert quantity_of("5 parsnips", None) is None
    assert quantity_of("on", None) is None
    assert Decimal("5") == Decimal(str(quantity_of("5", None).number))
