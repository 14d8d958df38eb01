"""The text of the matching sheet, and of a draft, from pairs made by hand: every group, no matcher involved."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from golden_text import check_golden

from asflown.app.catalogs import Given
from asflown.app.matched import Group, match_given, sure
from asflown.app.notes_draft import draft
from asflown.app.views.match_json import match_json
from asflown.app.views.match_shown import Show, match_sheet
from asflown.core.carry.matching.result import Matching, Pair, PairKind, Zone
from asflown.core.carry.meaning import Kinship, Meaning
from asflown.core.catalog import Catalog, CatalogSource, Consequence, ParameterDef
from asflown.faces.cli.console import ascii_only, sheet_text

SAFETY, NONE = Consequence.SAFETY, Consequence.NONE
SAME = Meaning(Kinship.SAME)


def given(name, release, *parameters, is_guessed=False):
    made = tuple(ParameterDef(item) if isinstance(item, str) else item for item in parameters)
    return Given(name, Catalog(made, CatalogSource.STATED), release, is_guessed)


OLD = given(
    "reed-3",
    "reed-3",
    "tilt.limit",
    "lamp.on",
    "gain",
    ParameterDef("link.wait", unit="s"),
    "link.act",
    "tilt.bits",
    "idle",
    "warn.volt",
    "warn.cells",
    "odd.name.of.a.setting.that.is.longer.than.most.of.them",
    ParameterDef("toy", default="4", description="a toy"),
    "mid",
)
NEW = given(
    "next/catalog.csv",
    "next",
    "lean.limit",
    "lights.on",
    "gain.roll",
    "gain.nod",
    ParameterDef("link.wait", unit="ms"),
    "link.act",
    "tilt.bits",
    "idle",
    "warn.cell",
    "mid",
    ParameterDef("odd.thing", unit="deg", default="2", description="how odd it is", consequence=NONE),
    is_guessed=True,
)


def pair(old, new, kind, confidence, zone, reasons, meaning=SAME, consequence=NONE, **more):
    return Pair(old, new, kind, confidence, zone, reasons, meaning, consequence=consequence, **more)


def pairs():
    rename, same, ask = PairKind.RENAME, PairKind.SAME, Zone.PROPOSE
    name = ("the same name",)
    yield pair(
        "tilt.limit",
        "lean.limit",
        rename,
        0.974,
        ask,
        ("same unit and range", "the first word changed as in 7 other settings"),
        consequence=SAFETY,
        runner_up=("gain.nod", 0.021),
    )
    yield pair("lamp.on", "lights.on", rename, 0.9991, Zone.APPLY, ("same description",))
    yield pair("gain", "gain.roll", PairKind.SPLIT, 0.91, ask, ("one an axis",), others=("gain.nod",))
    scaled = Meaning(Kinship.SCALED, Decimal(1000), says="unit s before, ms now")
    shift = ("1.5", "1500")
    yield pair("link.wait", "link.wait", same, 0.99, ask, name, scaled, SAFETY, default_shift=shift)
    values = {"0": "2", "1": "0", "2": "2"}
    moved = Meaning(Kinship.RENUMBERED, values=values, says="choices carry other numbers now")
    yield pair("link.act", "link.act", same, 0.99, ask, name, moved, SAFETY)
    bits = Meaning(Kinship.RENUMBERED, values={"0": "1"}, bits=True, says="bits carry other numbers now")
    yield pair("tilt.bits", "tilt.bits", same, 0.99, ask, name, bits, Consequence.UNKNOWN)
    yield pair("idle", "idle", same, 0.99, ask, name, default_shift=("0.05", "0.07"))
    for one, other in (("warn.volt", "warn.cells"), ("warn.cells", "warn.volt")):
        yield pair(one, "warn.cell", PairKind.MERGE, 0.62, ask, ("both in it",), others=(other,))
    longest = "odd.name.of.a.setting.that.is.longer.than.most.of.them"
    yield pair(longest, "odd.thing", rename, 0.31, Zone.UNKNOWN, ("one word the same",))
    yield pair("mid", "mid", same, 1.0, Zone.APPLY, name, Meaning(Kinship.UNSTATED))


MATCHING = Matching(
    tuple(pairs()), ("odd.name.of.a.setting.that.is.longer.than.most.of.them", "toy"), ("odd.thing",)
)


@pytest.fixture(scope="module")
def matched():
    return match_given(OLD, NEW, matcher=lambda *_: MATCHING)


@pytest.mark.parametrize("show", [None, *Show])
def test_the_sheet_reads_as_agreed(matched, show):
    check_golden(f"match_{show or 'usual'}.txt", sheet_text(match_sheet(matched, show), columns=80))


def test_the_draft_reads_as_agreed(matched):
    check_golden("notes_draft.toml.txt", draft(matched).data.decode())


def test_every_group_is_there_and_the_sum_holds(matched):
    assert {group: matched.counts[group] for group in Group} == {
        Group.RENAMED: 5,
        Group.MEANING: 3,
        Group.FACTORY: 1,
        Group.UNKNOWN: 1,
        Group.RETIRED: 1,
        Group.UNSTATED: 1,
        Group.UNCHANGED: 0,
    }
    assert matched.adds_up
    counts = match_json(matched)["counts"]
    assert counts["renamed"] + counts["other_meaning"] + counts["default_shift"] == 9
    assert counts["new"] == 1


def test_a_merge_with_one_pair_for_all_its_names_adds_up_too():
    merged = pair("a", "c", PairKind.MERGE, 0.9, Zone.PROPOSE, ("x",), others=("b",))
    matching = Matching((merged,), (), ())
    made = match_given(given("o", "1", "a", "b"), given("n", "2", "c"), matcher=lambda *_: matching)
    assert made.counts[Group.RENAMED] == 2


def test_marks_in_ascii(matched):
    text = ascii_only(sheet_text(match_sheet(matched), columns=80))
    assert "-> 5 other name" in text
    assert "x 1 retired" in text


@pytest.mark.parametrize(
    ("value", "text"),
    [(1, "1.00"), (0.9991, ">0.99"), (0.994, "0.99"), (0.5, "0.50"), (0.001, "<0.01"), (0, "0.00")],
)
def test_what_is_not_certain_never_reads_so(value, text):
    assert sure(value) == text


def test_json_never_rounds_to_certainty(matched):
    risky = replace(MATCHING.pairs[0], confidence=0.99999)
    made = match_given(OLD, NEW, matcher=lambda *_: replace(MATCHING, pairs=(risky, *MATCHING.pairs[1:])))
    assert match_json(made)["pairs"][0]["confidence"] == 0.9999
