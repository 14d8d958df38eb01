"""What was read against what is expected, and what a fix opens again."""

from __future__ import annotations

import pytest

from asflown.core.bench.fixes import Fix, asks_read_back, opened
from asflown.core.bench.judged import contradicted, judged
from asflown.core.bench.refit_cards import BenchFacts, cards_for
from asflown.core.cards import Card, Item, Measure, Phase
from asflown.core.catalog import Catalog, CatalogSource, ParameterDef
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Key
from asflown.core.refit import Reading
from asflown.core.statements.statements import of_one, statements

CARDS = {card.id: card for card in cards_for()}


def reading(what: str, value: str, *, over_link: bool = False) -> Reading:
    return Reading(what, value, "", over_link, "2026-03-07", "Ida")


def words(card: Card, *readings: Reading) -> dict[str, bool | None]:
    return {one.measure.what: one.is_as_expected for one in judged(card, readings)}


@pytest.mark.parametrize(
    ("shown", "is_so"), [("15.92", True), ("15.82", True), ("15.81", False), ("16.03", False), ("?", None)]
)
def test_the_shown_voltage_agrees_with_the_meter_within_a_tenth(shown, is_so) -> None:
    said = words(CARDS["meter"], reading("meter", "15.92"), reading("shown", shown))
    assert said["shown"] is is_so
    assert said["meter"] is None


def test_one_reading_alone_says_nothing_of_agreement() -> None:
    assert words(CARDS["meter"], reading("shown", "15.92"))["shown"] is None


def test_signs_are_judged_where_a_link_says_them_and_level_always() -> None:
    """ISO 1151-1: roll is positive right wing down, pitch positive nose up."""
    card = CARDS["orientation"]
    assert words(card, reading("roll, right side down", "-31"))["roll, right side down"] is None
    assert (
        words(card, reading("roll, right side down", "-31", over_link=True))["roll, right side down"] is False
    )
    assert (
        words(card, reading("roll, right side down", "31", over_link=True))["roll, right side down"] is True
    )
    assert words(card, reading("roll when level", "2.4"))["roll when level"] is False
    assert words(card, reading("pitch when level", "\u22121.9"))["pitch when level"] is True


def test_one_stick_moves_one_channel() -> None:
    card = CARDS["sticks"]
    what = "roll ends and middle"
    for value, is_so in (
        ("channel 1: 1010 to 1990, rest 1500", True),
        ("none", False),
        ("channel 1: 1010 to 1990; channel 4: 1200 to 1800", False),
    ):
        assert words(card, reading(what, value, over_link=True))[what] is is_so, value


def test_a_setting_is_as_planned_as_a_number() -> None:
    card = Card("c", "t", Phase.BENCH, "", (), (), (), "", items=(
        Item("x", measures=(Measure("wait", "ms", setting="wait", planned="1500"),)),
    ))  # fmt: skip
    assert words(card, reading("wait", "1500.0"))["wait"] is True
    assert words(card, reading("wait", "15"))["wait"] is False
    assert [one.measure.what for one in contradicted(card, (reading("wait", "15"),))] == ["wait"]


def test_the_planned_time_and_voltage_are_what_the_cards_expect() -> None:
    catalog = Catalog(
        (
            ParameterDef("wait", unit="s", role="radio_loss.delay"),
            ParameterDef("low", unit="V", role="pack.warning_voltage"),
        ),
        CatalogSource.STATED,
    )
    said = of_one(statements({Key("wait"): "2", Key("low"): "14.0"}, catalog, "thrush-2.0"))
    plan = Plan("wren", Purpose.REFIT, "a", "b", 0, ())
    cards = {card.id: card for card in cards_for(plan, catalog, facts=BenchFacts(statements=said))}
    lost = cards["transmitter-off"]
    assert any("acts by itself after: 2 s" in text for text in lost.set_up)
    assert words(lost, reading("time to link lost", "2.3"))["time to link lost"] is True
    assert words(lost, reading("time to link lost", "20"))["time to link lost"] is False
    assert words(cards["meter"], reading("warning at (pack)", "14.1"))["warning at (pack)"] is True
    assert words(cards["meter"], reading("warning at (pack)", "3.5"))["warning at (pack)"] is False
    assert words(CARDS["transmitter-off"], reading("time to link lost", "20"))["time to link lost"] is None


ALL = [card.id for card in CARDS.values()]


@pytest.mark.parametrize(
    ("fix", "failed", "again"),
    [
        (Fix.NOTHING, "sticks", {"sticks"}),
        (Fix.MOUNTING, "orientation", {"orientation", "first-hover"}),
        (Fix.WIRING, "motors", {"motors", "sticks", "transmitter-off", "meter", "radio-power", "first-hover"}),
        (Fix.SETTINGS, "arming-switch", set(ALL) - {"baseline", "propellers-off"}),
    ],
)  # fmt: skip
def test_a_fix_opens_what_it_touches_and_nothing_before_the_bench(fix, failed, again) -> None:
    assert set(opened(fix, failed, tuple(CARDS.values()), ALL)) == again
    assert asks_read_back(fix) == (fix is Fix.SETTINGS)


@pytest.mark.parametrize("fix", list(Fix))
def test_a_fix_always_opens_the_card_that_failed_and_only_what_was_answered(fix) -> None:
    for card in CARDS.values():
        made = opened(fix, card.id, tuple(CARDS.values()), [card.id])
        assert made == (card.id,)
