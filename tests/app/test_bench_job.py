"""Values noted at the bench, a card that failed and was put right, and what it opens again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from golden_text import check_golden
from small_world import NEW, World, put, world
from test_back_job import loaded

from asflown.app import kept
from asflown.app.bench.readings import fixed, note_values
from asflown.app.cards import cards_of, mark
from asflown.app.sign import Signature, sign
from asflown.app.views.bench_shown import bench_json, bench_sheet, fixed_sheet, read_json, read_sheet
from asflown.app.views.entry_said import said
from asflown.core.aircraft import Aircraft
from asflown.core.bench.fixes import Fix
from asflown.core.cards import Phase
from asflown.core.refit import GateName, State
from asflown.errors import NeedsPerson, UsageError
from asflown.faces.cli.console import sheet_text
from asflown.formats import documents


def refit(made: World):
    return kept.needed_refit(made.store, "wren").refit


def test_the_bench_of_a_refit_names_its_own_checks() -> None:
    made = loaded()
    check_golden("bench.txt", sheet_text(bench_sheet(cards_of(made.work, "wren"))))
    body = bench_json(cards_of(made.work, "wren"))
    assert body["checks"]["calibrations"] == 1
    assert {card["phase"] for card in body["cards"]} == {"bench"}


def test_values_are_noted_by_how_their_box_begins_and_the_last_one_stands() -> None:
    made = loaded()
    note_values(made.work, "wren", "meter", ["meter=15.92 V", "shown=15.2"])
    read = note_values(made.work, "wren", "meter", ["shown = 15.88"])
    assert [(one.what, one.value) for one in refit(made).readings["meter"]] == [
        ("meter", "15.92"),
        ("shown", "15.88"),
    ]
    assert read_json(read)["read"][0]["as_expected"] is True
    assert "1 value noted" in sheet_text(read_sheet(read))
    entries = [said(entry) for entry in made.store.book("wren") if entry.kind == "bench"]
    assert entries == [
        "read for card meter: meter 15.92 V, shown 15.2 V; not as expected: shown",
        "read for card meter: shown 15.88 V",
    ]


@pytest.mark.parametrize(
    ("card", "pair", "says"),
    [
        ("meter", "volt=15", "has no box 'volt'"),
        ("orientation", "roll=3", "several boxes of card orientation begin with 'roll'"),
        ("meter", "shown", "is no value"),
        ("meter", "shown=", "is no value"),
        ("no-such", "shown=1", "there is no card"),
    ],
)
def test_a_value_that_belongs_to_no_box_is_refused_with_the_boxes(card, pair, says) -> None:
    made = loaded()
    with pytest.raises(UsageError, match=says):
        note_values(made.work, "wren", card, [pair])
    assert not refit(made).readings


def test_a_card_passes_against_what_was_read_only_with_a_reason() -> None:
    made = loaded()
    mark(made.work, "wren", "propellers-off", "pass")
    note_values(made.work, "wren", "meter", ["meter=15.92", "shown=15.2"])
    assert any("meter: shown is 15.2 V" in text for text in bench_sheet(cards_of(made.work, "wren")).warnings)
    with pytest.raises(
        NeedsPerson, match=r"not as expected \(shown 15.2 V, expected within 0.1 V of meter\)"
    ):
        mark(made.work, "wren", "meter", "pass")
    mark(made.work, "wren", "meter", "pass", "the meter's leads were loose; read again by eye, 15.9 on both")


def test_a_fix_opens_what_it_touches_and_what_was_read_there() -> None:
    made = loaded()
    for card in ("propellers-off", "calibrations", "orientation"):
        mark(made.work, "wren", card, "pass")
    note_values(made.work, "wren", "motors", ["1=right front, clockwise"])
    mark(made.work, "wren", "motors", "fail", "1 and 2 changed over")
    with pytest.raises(NeedsPerson, match="is closed: 'motors' failed"):
        mark(made.work, "wren", "sticks", "pass")
    with pytest.raises(NeedsPerson, match="has not failed"):
        fixed(made.work, "wren", "sticks", Fix.WIRING, "x")
    with pytest.raises(UsageError, match="say what was put right"):
        fixed(made.work, "wren", "motors", Fix.WIRING, " ")
    cards, again = fixed(made.work, "wren", "motors", Fix.WIRING, "plugs 1 and 2 changed back")
    assert again == ("calibrations", "motors")
    words = {one.card.id: one.word for one in cards.states}
    assert words["motors"] == words["calibrations"] == "not stated"
    assert words["orientation"] == "pass"
    assert "motors" not in refit(made).readings
    assert GateName.BENCH_CARDS not in refit(made).gates
    last = said(made.store.book("wren")[-1])
    assert last == (
        "card motors failed and was put right (wiring): plugs 1 and 2 changed back;"
        " done again: calibrations, motors"
    )


def test_settings_put_right_at_the_bench_are_read_back_before_anything_is_signed() -> None:
    made = loaded()
    mark(made.work, "wren", "propellers-off", "pass")
    mark(made.work, "wren", "orientation", "fail", "roll reads the other way")
    cards, again = fixed(made.work, "wren", "orientation", Fix.SETTINGS, "the board's turn set to 180")
    assert refit(made).state is State.WRITTEN_OUT
    assert GateName.READ_BACK.value not in refit(made).gates
    shown = fixed_sheet(cards, again, read_back=True)
    assert shown.next_act[0].startswith("read them back: asflown readback")
    with pytest.raises(NeedsPerson):
        sign(made.work, "wren", Signature("Ida Holm", "maintainer"))


def test_after_a_sign_off_settings_are_not_put_right_on_the_side() -> None:
    made = loaded()
    for state in cards_of(made.work, "wren").states:
        if state.card.phase is Phase.BENCH:
            mark(made.work, "wren", state.card.id, "pass")
    sign(made.work, "wren", Signature("Ida Holm", "maintainer"))
    mark(made.work, "wren", "first-hover", "fail", "leans to the left")
    with pytest.raises(NeedsPerson, match="was signed off for the settings as they were read back"):
        fixed(made.work, "wren", "first-hover", Fix.SETTINGS, "trim")
    _, again = fixed(made.work, "wren", "first-hover", Fix.MOUNTING, "the board was loose")
    assert again == ("calibrations", "orientation", "first-hover")


def test_a_device_moved_while_the_refit_is_open_is_a_check_of_its_own() -> None:
    made = loaded()
    before = {one.card.id for one in cards_of(made.work, "wren").states}
    aircraft = documents.load(made.store.document("aircraft", "wren").body, Aircraft)
    moved = replace(aircraft.devices[0], port="output 5")
    put(made.work, "aircraft", "wren", replace(aircraft, devices=(moved,)))
    cards = {one.card.id: one.card for one in cards_of(made.work, "wren").states}
    assert set(cards) - before == {"port-moves"}
    assert cards["port-moves"].items[0].text.startswith("esc: not stated → output 5")


def test_the_bench_without_a_refit_is_the_standing_cards() -> None:
    made = world()
    shown = sheet_text(bench_sheet(cards_of(made.work, "wren")))
    assert "No refit adds any check of its own." in shown
    assert NEW.id not in shown
