"""Change notes drafted from pairs made by hand: every kind of pair becomes the note it must, and the rest a comment."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from asflown.app.catalogs import Given
from asflown.app.matched import Matched, match_given
from asflown.app.notes_draft import draft
from asflown.core.carry.matching.result import Matching, Pair, PairKind, Zone
from asflown.core.carry.meaning import Kinship, Meaning
from asflown.core.catalog import Catalog, CatalogSource, Consequence, NoteKind, ParameterDef
from asflown.errors import Damaged, UsageError
from asflown.formats import notes

SAME = Meaning(Kinship.SAME)


def catalog(*names, **units):
    return Catalog(
        tuple(ParameterDef(name, unit=units.get(name.replace(".", "_"))) for name in names),
        CatalogSource.STATED,
    )


def pair(old, new, meaning=SAME, kind=None, **more):
    kind = kind or (PairKind.SAME if old == new else PairKind.RENAME)
    return Pair(old, new, kind, 0.97, Zone.PROPOSE, ("same unit",), meaning, **more)


def drafted(old, new, *pairs):
    """The draft of pairs, and the notes read back from it."""
    claimed = [p for p in pairs if p.is_claimed]
    taken = {name for p in claimed for name in (p.new, *(p.others if p.kind is PairKind.SPLIT else ()))}
    matching = Matching(
        pairs,
        tuple(name for name in old.by_name if name not in {p.old for p in claimed}),
        tuple(name for name in new.by_name if name not in taken),
    )
    made = draft(Matched(Given("a", old, "reed-1"), Given("b", new, "reed-2"), matching))
    return made, notes.read(made.data, "draft.toml")


def one(old, new, *pairs):
    made, read = drafted(old, new, *pairs)
    assert len(read.changes) == 1
    return made, read.changes[0]


def taken_in(made):
    """The notes when a person took away every # of an entry."""
    text = made.data.decode()
    keys = r"\[\[change\]\]|(?:kind|old|new|why|consequence|expression|choices|unit|factor) = "
    return notes.read(re.sub(rf"(?m)^# (?={keys})", "", text).encode(), "taken.toml")


def test_a_rename_holds_its_confidence_and_reasons():
    made, change = one(catalog("a"), catalog("b", "c"), pair("a", "b", runner_up=("c", 0.02)))
    assert (change.kind, change.old, change.new) == (NoteKind.RENAME, ("a",), ("b",))
    assert change.why == "matched 0.97: same unit"
    assert "# 0.97, propose; runner-up c 0.02\n[[change]]" in made.data.decode()
    assert made.to_check == ()


def test_it_never_claims_to_be_complete():
    _, read = drafted(catalog("a"), catalog("a"), pair("a", "a"))
    assert (read.from_release, read.to_release, read.complete, read.changes) == (
        "reed-1",
        "reed-2",
        False,
        (),
    )


def test_an_exact_unit_is_converted_and_one_with_pi_is_asked():
    scaled = Meaning(Kinship.SCALED, Decimal(1000), says="unit s before, ms now")
    for name in ("a", "b"):
        _, change = one(catalog("a", a="s"), catalog(name, **{name: "ms"}), pair("a", name, scaled))
        assert (change.kind, change.new) == (NoteKind.CONVERT, (name,))
        assert (change.conversion.unit_from, change.conversion.unit_to) == ("s", "ms")
    turned = Meaning(
        Kinship.SCALED, Decimal("57.29577951308232087679815481410517"), says="unit rad before, deg now"
    )
    for name, new in (("a", ()), ("b", ("b",))):
        made, change = one(catalog("a", a="rad"), catalog(name, **{name: "deg"}), pair("a", name, turned))
        assert (change.kind, change.new) == (NoteKind.MEANING, new)
        assert "is rounded" in made.data.decode()
        assert made.to_check == ("a",)


def test_a_factor_without_units():
    _, change = one(catalog("a"), catalog("a"), pair("a", "a", Meaning(Kinship.SCALED, Decimal(1024))))
    assert (change.kind, change.conversion.factor) == (NoteKind.CONVERT, Decimal(1024))


def test_choices_are_converted_and_lost_ones_are_marked():
    meaning = Meaning(Kinship.RENUMBERED, values={"0": "1", "1": "0"}, lost={"2": "horn"})
    made, change = one(catalog("a"), catalog("a"), pair("a", "a", meaning))
    assert (change.kind, change.conversion.choices) == (NoteKind.CONVERT, {"0": "1", "1": "0"})
    assert "# to check: no counterpart for 2 (horn)" in made.data.decode()


@pytest.mark.parametrize(
    "meaning",
    [
        Meaning(Kinship.RENUMBERED, values={"0": "1"}, bits=True),
        Meaning(Kinship.RENUMBERED, lost={"0": "off"}),
        Meaning(Kinship.SUSPECT, says="range 0..1 before, 0..9 now"),
    ],
)
def test_what_no_note_can_convert_is_left_to_a_person(meaning):
    for name, new in (("a", ()), ("b", ("b",))):
        made, change = one(catalog("a"), catalog(name), pair("a", name, meaning))
        assert (change.kind, change.new, change.conversion.is_copy) == (NoteKind.MEANING, new, True)
        assert made.to_check == ("a",)


def test_moved_factory_values():
    made, change = one(catalog("a"), catalog("a"), pair("a", "a", default_shift=("1", "2")))
    assert (change.kind, change.why) == (NoteKind.DEFAULT, "factory value 1 before, 2 now")
    assert made.to_check == ()


def test_a_split_and_a_merge():
    split = pair("a", "b", kind=PairKind.SPLIT, others=("c",))
    made, change = one(catalog("a"), catalog("b", "c"), split)
    assert (change.kind, change.new) == (NoteKind.SPLIT, ("b", "c"))
    assert made.to_check == ("a",)
    both = [pair(x, "c", kind=PairKind.MERGE, others=(y,)) for x, y in (("a", "b"), ("b", "a"))]
    made, read = drafted(catalog("a", "b"), catalog("c"), *both)
    assert read.changes == ()  # without arithmetic one value alone would be copied
    assert made.retired == ()
    (change,) = taken_in(made).changes
    assert (change.kind, change.old, change.new) == (NoteKind.MERGE, ("a", "b"), ("c",))


def test_retirements_are_comments_a_person_takes_in():
    unsure = replace(pair("b", "x"), zone=Zone.UNKNOWN, confidence=0.4)
    made, read = drafted(catalog("a", "b"), catalog("x"), unsure)
    assert read.changes == ()
    assert made.retired == ("a", "b")
    assert "best candidate 0.40: x; same unit" in made.data.decode()
    assert [change.old for change in taken_in(made).changes] == [("a",), ("b",)]
    assert not taken_in(made).complete


def test_a_name_that_stayed_for_something_else_is_asked_and_one_that_was_taken_is_not_named_twice():
    unsure = replace(pair("a", "a"), zone=Zone.UNKNOWN)
    _, change = one(catalog("a"), catalog("a"), unsure)
    assert change.kind is NoteKind.MEANING
    made, read = drafted(catalog("a", "b"), catalog("a"), unsure, pair("b", "a"))
    assert [(c.kind, c.old, c.new) for c in read.changes] == [(NoteKind.RENAME, ("b",), ("a",))]
    assert "the old release has a a too" in made.data.decode()
    assert made.retired == ("a",)


@pytest.mark.parametrize("consequence", [Consequence.SAFETY, Consequence.HANDLING])
def test_what_touches_the_aircraft_is_marked(consequence):
    made, change = one(catalog("a"), catalog("b"), pair("a", "b", consequence=consequence))
    assert change.consequence is consequence
    assert made.to_check == ("a",)
    scaled = Meaning(Kinship.SCALED, Decimal(10))
    made, _ = one(catalog("a"), catalog("a"), pair("a", "a", scaled, consequence=consequence))
    assert made.to_check == ("a",)


def test_the_releases_must_be_two_and_known():
    matching = Matching((), (), ())
    empty = catalog()

    def of(old, new, *said):
        return draft(Matched(Given("a", empty, old), Given("b", empty, new), matching), *said)

    assert of(None, "reed-2", "reed-1").from_release == "reed-1"
    with pytest.raises(UsageError, match="which release is a"):
        of(None, "reed-2")
    with pytest.raises(UsageError, match="both would be notes of release"):
        of("reed-2", "reed-2")
    guessed = Matched(Given("a", empty, "x", is_guessed=True), Given("b", empty, "y"), matching)
    assert b"to check: `from` is taken from the name" in draft(guessed).data
    assert b"`from` is taken" not in draft(guessed, "reed-1").data


def test_a_matching_that_does_not_add_up_is_refused():
    a, b = Given("a", catalog("x", "y"), "1"), Given("b", catalog("x"), "2")
    good = Matching((pair("x", "x"),), ("y",), ())
    assert match_given(a, b, matcher=lambda *_: good).adds_up
    for bad in (replace(good, retired=()), replace(good, new=("x",)), replace(good, pairs=())):
        with pytest.raises(Damaged, match="does not add up"):
            match_given(a, b, matcher=lambda *_, bad=bad: bad)
