"""The standing cards, the cards a refit adds, and what a sign-off may claim."""

from __future__ import annotations

import re

import pytest

from asflown.core.bench.refit_cards import cards_for
from asflown.core.cards import CardState, Phase, Propellers, card_states, is_bench_checked, proven
from asflown.core.carry.dispositions import Basis, Cause, Disposition, Found, Left, Line, Settled
from asflown.core.catalog import Catalog, CatalogSource, Consequence, ParameterDef
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Key
from asflown.core.refit import CardResult, Gate, GateName

STANDING = cards_for()


def result(word: str) -> CardResult:
    return CardResult(word, "", "2026-03-07", "Ida")


def test_the_first_card_is_the_baseline_and_the_last_the_hover() -> None:
    assert [card.id for card in STANDING] == [
        "baseline",
        "propellers-off",
        "orientation",
        "motors",
        "sticks",
        "transmitter-off",
        "arming-switch",
        "meter",
        "radio-power",
        "first-hover",
    ]
    assert [card.number for card in STANDING] == list(range(1, 11))


@pytest.mark.parametrize("card", STANDING, ids=lambda card: card.id)
def test_every_card_says_aim_steps_expectation_condition_and_safety(card) -> None:
    assert card.aim
    assert card.set_up
    assert card.do
    assert card.expect
    assert card.go_on_only_if
    assert card.safety
    if card.is_powered:
        assert card.stop
    if card.phase is Phase.BENCH and card.id != "propellers-off":
        assert any("PROPELLERS OFF" in text for text in card.safety)
    if card.phase is Phase.FLIGHT:
        assert card.propellers is Propellers.ON
        assert any("PROPELLERS ON" in text for text in card.safety)


def test_nothing_on_a_card_has_the_tool_arm_or_start_a_motor() -> None:
    texts = [text for card in STANDING for text in (*card.do, *card.set_up, *card.expect)]
    named = [text for text in texts if "asflown" in text.lower()]
    assert named
    for text in named:
        if re.search(r"asflown (arms|starts|spins)", text):
            assert "asflown arms nothing" in text or "asflown starts none" in text


def test_a_failed_card_closes_what_follows_and_only_that() -> None:
    done = {card.id: result("pass") for card in STANDING[:6]}
    done["motors"] = result("fail")
    states = card_states(STANDING, done)
    words = {state.card.id: state.word for state in states}
    assert words["orientation"] == "pass"
    assert words["motors"] == "fail"
    assert {words[card.id] for card in STANDING[4:]} == {"closed"}
    assert states[4].closed_by == "motors"


def test_powered_bench_cards_wait_for_propellers_off_and_the_hover_for_all() -> None:
    waits = {state.card.id: state.waits_for for state in card_states(STANDING, {})}
    assert waits["orientation"] is None  # USB alone
    assert waits["motors"] == "propellers-off"
    assert waits["first-hover"] == "propellers-off"
    done = {card.id: result("pass") for card in STANDING if card.phase is Phase.BENCH and card.id != "meter"}
    waits = {state.card.id: state.waits_for for state in card_states(STANDING, done)}
    assert waits["motors"] is None
    assert waits["first-hover"] == "meter"


def states(words: dict[str, str]) -> tuple[CardState, ...]:
    return card_states(STANDING, {card: result(word) for card, word in words.items()})


ALL_BENCH = {card.id: "pass" for card in STANDING if card.phase is Phase.BENCH}


def gate(answer: str, statement: str = "seen") -> Gate:
    return Gate(answer, statement, "2026-03-07", "Ida")


@pytest.mark.parametrize(
    ("words", "gates", "claim"),
    [
        ({}, {}, "settings proven; not bench-checked, not flown"),
        ({**ALL_BENCH, "sticks": "not tested"}, {}, "settings proven; not bench-checked, not flown"),
        (ALL_BENCH, {}, "settings proven; bench-checked, not flown"),
        (
            {**ALL_BENCH, "first-hover": "pass"},
            {},
            "settings proven; bench-checked, hovered half a minute, no trial flown",
        ),
        (ALL_BENCH, {GateName.TRIAL_FLIGHT: gate("skipped")}, "settings proven; bench-checked, not flown"),
        (
            ALL_BENCH,
            {GateName.TRIAL_FLIGHT: gate("passed")},
            "settings proven; bench-checked, trial flown, no verdict",
        ),
        (
            ALL_BENCH,
            {GateName.TRIAL_FLIGHT: gate("passed"), GateName.VERDICT: gate("passed", "flies as before")},
            "settings proven; bench-checked, trial flown, verdict: flies as before",
        ),
    ],
)
def test_a_sign_off_never_claims_more_than_was_done(words, gates, claim) -> None:
    found = states(words)
    assert proven(found, gates) == claim
    assert is_bench_checked(found) == ("not bench-checked" not in claim)


def line(id: str, kind: Disposition, old: str, new: str | None, consequence: Consequence, **more) -> Line:
    olds = (Found(Key(old), "1.5"),)
    news = (Left(Key(new), "1500"),) if new else ()
    return Line(id, kind, olds, news, "why", Basis.NOTE, consequence, **more)


def test_a_refit_adds_cards_for_its_own_changes() -> None:
    settled = Settled("keep", "flown so for years", "Ida", "2026")
    plan = Plan(
        "wren", Purpose.REFIT, "a", "b", 5,
        (
            line("1", Disposition.CONVERT, "wait", "wait_ms", Consequence.SAFETY, copied="copied as 1.5 it would mean 1.5 ms"),
            line("2", Disposition.CONVERT, "lamp", "lamp_b", Consequence.COMFORT),
            line("3", Disposition.RETIRE, "rescue", None, Consequence.HANDLING, consequence_why="no rescue any more"),
            line("4", Disposition.REDO, "trim", "trim", Consequence.HANDLING),
            line("5", Disposition.KEEP, "idle", "idle", Consequence.SAFETY, cause=Cause.MOVED_FACTORY, settled=settled),
        ),
    )  # fmt: skip
    new = Catalog(
        (ParameterDef("trim", redo="level it and store"), ParameterDef("wait_ms", unit="ms")),
        CatalogSource.STATED,
    )
    cards = {card.id: card for card in cards_for(plan, new, was_provisional=True)}
    assert [item.text for item in cards["calibrations"].items] == ["Level it and store: trim"]
    assert [item.text for item in cards["safety-changes"].items] == [
        "wait = 1.5 is now wait_ms = 1500 ms (copied as 1.5 it would mean 1.5 ms)"
    ]
    assert [item.text for item in cards["retired"].items] == ["rescue = 1.5 is gone: no rescue any more"]
    assert [item.text for item in cards["decisions"].items] == ["Decided 'keep' for idle: flown so for years"]
    assert cards["calibrations"].items[0].expect.endswith("Of the size it was: trim 1.5.")
    (read,) = cards["safety-changes"].items[0].measures
    assert (read.setting, read.planned, read.unit) == ("wait_ms", "1500", "ms")
    assert list(cards)[:3] == ["baseline", "factory-listing", "propellers-off"]
    assert list(cards)[-1] == "first-hover"
