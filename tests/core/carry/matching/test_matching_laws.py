"""Laws of matching on generated catalogs: everything is accounted for, nothing risky is applied."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from asflown.core.carry.matching.match import match, match_lost
from asflown.core.carry.matching.result import PairKind, Zone
from asflown.core.catalog import Catalog, CatalogSource, Choice, Consequence, ParameterDef, ValueKind

WORDS = st.sampled_from(["turn", "climb", "lamp", "link", "gain", "time", "mode", "low", "a", "b", "1", "2"])
NAMES = st.lists(WORDS, min_size=1, max_size=4).map(".".join) | st.text(min_size=1, max_size=10)


@st.composite
def parameters(draw) -> ParameterDef:
    return ParameterDef(
        name=draw(NAMES),
        group=draw(st.sampled_from([None, "turn", "lamp"])),
        kind=draw(st.sampled_from(list(ValueKind))),
        type=draw(st.sampled_from([None, "Float", "Int16"])),
        unit=draw(st.sampled_from([None, "s", "ms", "deg", "widgets"])),
        minimum=draw(st.sampled_from([None, Decimal(0)])),
        maximum=draw(st.sampled_from([None, Decimal(5), Decimal(5000)])),
        default=draw(st.sampled_from([None, "0", "1", "300", "on", "", "nan", "1e400"])),
        choices=draw(st.sampled_from([(), (Choice("0", "off"), Choice("1", "on"))])),
        description=draw(st.sampled_from([None, "How fast it turns", "When the lamp goes on, in seconds"])),
        role=draw(st.sampled_from([None, None, None, "turn.gain", "lamp.time"])),
        consequence=draw(st.sampled_from(list(Consequence))),
    )


CATALOGS = st.lists(parameters(), min_size=1, max_size=14, unique_by=lambda p: p.name)


def catalog(side) -> Catalog:
    return Catalog(tuple(side), CatalogSource.STATED)


@settings(max_examples=150)
@given(CATALOGS, CATALOGS)
def test_every_old_name_is_a_claimed_pair_or_retired_and_every_new_name_is_led_to_or_new(old, new):
    made = match(catalog(old), catalog(new))
    claimed = [pair for pair in made.pairs if pair.is_claimed]
    assert sorted([*(pair.old for pair in claimed), *made.retired]) == sorted(p.name for p in old)
    assert len({pair.old for pair in made.pairs}) == len(made.pairs)
    led_to = {name for p in claimed for name in (p.new, *(p.others if p.kind is PairKind.SPLIT else ()))}
    assert led_to | set(made.new) == {p.name for p in new}
    assert not led_to & set(made.new)
    alone = [pair.new for pair in claimed if pair.kind in (PairKind.SAME, PairKind.RENAME)]
    assert len(alone) == len(set(alone)), "one-to-one but for splits and merges"


@settings(max_examples=150)
@given(CATALOGS, CATALOGS)
def test_nothing_with_a_consequence_is_applied_and_nothing_that_changed_meaning(old, new):
    before, after = {p.name: p for p in old}, {p.name: p for p in new}
    for pair in match(catalog(old), catalog(new)).pairs:
        a, b = before[pair.old], after[pair.new]
        assert 0 <= pair.confidence <= 1
        assert pair.reasons
        assert pair.runner_up is None or pair.runner_up[0] != pair.new
        if pair.zone is not Zone.APPLY:
            continue
        assert (a.type or "").casefold() == (b.type or "").casefold()
        assert (a.unit or "").casefold() == (b.unit or "").casefold()
        assert (a.minimum, a.maximum) == (b.minimum, b.maximum)
        if pair.kind is not PairKind.SAME:
            stated = {c for c in (a.consequence, b.consequence) if c is not Consequence.UNKNOWN}
            assert stated
            assert stated <= {Consequence.COMFORT, Consequence.NONE}


@settings(max_examples=60)
@given(CATALOGS, CATALOGS)
def test_only_a_changed_default_is_reported_as_a_default_shift(old, new):
    """The new side gets the old one's parameters with another factory value."""
    moved = [replace(p, default="77") for p in old if p.default not in (None, "", "77")]
    names = {p.name for p in moved}
    rest = [p for p in new if p.name not in names]
    found = {pair.old: pair for pair in match(catalog(old), catalog([*moved, *rest])).pairs}
    for p in moved:
        assert found[p.name].new == p.name
        assert found[p.name].default_shift is not None
        assert found[p.name].default_shift[1] == "77"


@settings(max_examples=60)
@given(CATALOGS, CATALOGS)
def test_the_same_catalogs_give_the_same_answer(old, new):
    assert match(catalog(old), catalog(new)) == match(catalog(old), catalog(new))


@settings(max_examples=60)
@given(CATALOGS, CATALOGS, st.data())
def test_only_free_names_are_led_to_from_lost_ones(old, new, data):
    there = {p.name for p in new}
    lost = [p.name for p in old if p.name not in there]
    free = data.draw(st.lists(st.sampled_from(sorted(there)), unique=True))
    in_use = {name: "300" for name in lost}
    for pair in match_lost(old, new, lost, free, in_use):
        assert pair.old in lost
        if pair.kind is not PairKind.MERGE and pair.is_claimed:
            assert pair.new in free


def test_one_that_became_two_and_two_that_became_one():
    def real(name, text):
        return ParameterDef(name, kind=ValueKind.REAL, unit="deg", default="35", description=text)

    common = [
        real(f"trim.{word}", f"Trim of the {word} plane") for word in ("left", "right", "upper", "lower")
    ]
    whole = real("lean.most", "The largest lean in flight")
    parts = [real(f"{axis}.lean.most", f"The largest lean in flight, {axis}") for axis in ("roll", "nod")]
    split = match(catalog([*common, whole]), catalog([*common, *parts]))
    pair = next(pair for pair in split.pairs if pair.old == "lean.most")
    assert pair.kind is PairKind.SPLIT
    assert {pair.new, *pair.others} == {"roll.lean.most", "nod.lean.most"}
    assert split.new == ()
    merged = match(catalog([*common, *parts]), catalog([*common, whole]))
    pairs = [pair for pair in merged.pairs if pair.old.endswith("lean.most")]
    assert {pair.kind for pair in pairs} == {PairKind.MERGE}
    assert {pair.new for pair in pairs} == {"lean.most"}


def test_a_role_both_state_decides_and_another_role_speaks_against():
    old = [ParameterDef("a.turn", role="turn.gain", default="3")]
    new = [ParameterDef("zz.9", role="turn.gain"), ParameterDef("b.turn", role="climb.gain", default="3")]
    (pair,) = match(catalog(old), catalog(new)).pairs
    assert pair.new == "zz.9"
    assert pair.is_claimed
    assert "role" in pair.reasons[0]


def test_nothing_to_match_is_no_fault():
    one = catalog([ParameterDef("\x1b")])
    assert match(one, one).retired == ()
    assert match(one, catalog([ParameterDef(":")])).retired == ("\x1b",)
