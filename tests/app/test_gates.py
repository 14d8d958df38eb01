"""States and gates of a refit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.app import gates
from asflown.core.plan import Purpose
from asflown.core.refit import Gate, GateName, Refit, State
from asflown.errors import NeedsPerson, UsageError

REFIT = Refit(
    "plover-r1", "plover", "board", Purpose.REFIT, "marl-1.0", "marl-2.0", State.PLANNING, "plover-001"
)
GATE = Gate("passed", "the log holds 94 s of hover", "2026-03-07T09:12:44+01:00", "ines")


def at(state: State) -> Refit:
    return replace(REFIT, state=state)


@pytest.mark.parametrize(
    "way",
    [
        (State.PLANNING, State.DECIDED, State.WRITTEN_OUT, State.READ_BACK, State.SIGNED),
        (State.DECIDED, State.WRITTEN_OUT, State.PARTLY_WRITTEN, State.WRITTEN_OUT, State.READ_BACK),
        (State.WRITTEN_OUT, State.PARTLY_WRITTEN, State.WENT_BACK),
        (State.PLANNING, State.NOT_NOW),
        (State.SIGNED, State.WENT_BACK),
    ],
)
def test_the_ways_a_refit_goes(way):
    refit = at(way[0])
    for state in way[1:]:
        refit = gates.moved(refit, state)
    assert refit.state is way[-1]


@pytest.mark.parametrize(
    ("state", "wanted"),
    [
        (State.PLANNING, State.WRITTEN_OUT),
        (State.PLANNING, State.SIGNED),
        (State.WRITTEN_OUT, State.SIGNED),
        (State.PARTLY_WRITTEN, State.SIGNED),
        (State.PARTLY_WRITTEN, State.NOT_NOW),
        (State.PARTLY_WRITTEN, State.DECIDED),
        (State.READ_BACK, State.NOT_NOW),
        (State.NOT_NOW, State.PLANNING),
        (State.WENT_BACK, State.SIGNED),
    ],
)
def test_a_step_cannot_be_skipped(state, wanted):
    with pytest.raises(NeedsPerson) as refused:
        gates.moved(at(state), wanted)
    assert refused.value.exit_code == 2
    assert state.value in str(refused.value)
    assert wanted.value in str(refused.value)
    assert refused.value.next_step


@given(st.lists(st.sampled_from(list(State)), max_size=12))
def test_law_no_way_leads_to_a_signature_without_a_read_back(wishes):
    refit, seen = REFIT, [State.PLANNING]
    for wish in wishes:
        if gates.may_become(refit.state, wish):
            refit = gates.moved(refit, wish)
            seen.append(wish)
    if State.SIGNED in seen:
        assert State.READ_BACK in seen[: seen.index(State.SIGNED)]
    if refit.state is State.NOT_NOW:
        assert State.PARTLY_WRITTEN not in seen or State.WRITTEN_OUT in seen


def test_every_state_says_what_is_next():
    assert all(gates.next_act(at(state)) for state in State)
    assert "do not fly" in gates.next_act(at(State.PARTLY_WRITTEN))


def test_a_gate_nobody_spoke_of_is_not_stated_and_no_pass():
    assert not gates.is_passed(REFIT, GateName.IMAGE)
    assert GateName.IMAGE in gates.not_stated(REFIT)
    answered = gates.answered(REFIT, GateName.IMAGE, GATE)
    assert gates.is_passed(answered, GateName.IMAGE)
    assert GateName.IMAGE not in gates.not_stated(answered)
    assert [name for name, _ in gates.standing(answered)] == list(GateName)


@pytest.mark.parametrize("answer", ["failed", "impossible", "skipped"])
def test_other_answers_are_no_pass(answer):
    refit = gates.answered(REFIT, GateName.BASELINE_FLIGHT, replace(GATE, answer=answer))
    with pytest.raises(NeedsPerson) as refused:
        gates.require(refit, GateName.BASELINE_FLIGHT, before="loading", next_step="fly it")
    assert answer in str(refused.value)


def test_an_answer_needs_a_known_word_and_a_statement():
    with pytest.raises(UsageError):
        gates.answered(REFIT, GateName.IMAGE, replace(GATE, answer="maybe"))
    with pytest.raises(UsageError):
        gates.answered(REFIT, GateName.IMAGE, replace(GATE, statement="  "))
