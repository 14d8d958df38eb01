"""What was decided for one aircraft is offered for the next: its origin named, its values the next one's own."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from small_world import changed, put
from two_aircraft import AFTER, BEFORE, add, first_decided, line_about, place, plan, settle, with_state

from asflown.app import carry_over, decide, kept
from asflown.app.handover import hand_over
from asflown.app.receive import receive
from asflown.app.views.carry_json import carry_json
from asflown.app.views.carry_shown import carry_sheet
from asflown.app.views.decide_shown import as_before_json, as_before_sheet, open_sheet, slip_sheet
from asflown.app.write_out import write_out
from asflown.core.plan import Purpose
from asflown.core.refit import State
from asflown.errors import Stale, UsageError


@pytest.fixture
def work():
    made = place()
    first_decided(made)
    return made


def ways(made, setting):
    return [way.id for way in line_about(made, setting).ways]


def recommended(made, setting):
    return [way.id for way in line_about(made, setting).ways if way.is_recommended]


def test_it_is_offered_first_with_its_origin_and_settles_nothing(work):
    add(work, "finch", idle_turns="300", lost_after="1.2")
    made = plan(work, "finch")
    line = line_about(made, "lost_after")
    assert line.is_open
    assert line.ways[0].id == "rename"
    assert line.ways[0].is_recommended
    assert [item.value for item in line.ways[0].new] == ["1200"], "the rule comes over, the value is its own"
    (origin,) = line.before.origins
    assert (origin.aircraft, origin.refit, origin.who) == ("wren", "wren-r1", "R. Anley")
    slip = slip_sheet(made, next(g for g in made.plan.open_groups if line in g.lines))
    assert any(f"for wren on {origin.at[:10]} by R. Anley: as it flew" in note for note in slip.notes)
    assert any("questions were decided before, for wren" in note for note in carry_sheet(made).notes)
    shown = next(x for x in carry_json(made)["lines"] if "lost_after" in x["old"])
    assert shown["before"]["agreed"] == "rename"
    assert shown["before"]["ways"][0]["origins"][0]["reason"] == "as it flew"


def test_one_question_for_all_of_one_origin_and_safety_apart(work):
    add(work, "finch")
    groups = {group.id: group for group in plan(work, "finch").plan.open_groups}
    together = groups["as-before.handling.wren-r1"]
    settings = {(x.old or x.new)[0].key.name for x in together.lines}
    assert {"turn_soft", "idle_turns", "brake_firm"} <= settings
    assert "spin_slow" not in settings
    assert "lost_after" not in settings
    assert together.option_ids == ("as-before",)
    done = decide.decide(work, "finch", decide.Choice("as-before.h", "as-before", "built alike"))
    assert {line_about(done, name).settled.option for name in settings} == {"rename", "keep", "factory"}


def test_all_at_once_but_safety_and_it_says_what_it_left(work):
    add(work, "finch", turn_soft="44")
    plan(work, "finch")
    done = decide.as_before(replace(work, who="Ines"), "finch", "built alike")
    assert done.settled == ("as-before.handling.wren-r1",)
    line = line_about(done.made, "turn_soft")
    assert [(item.key.name, item.value) for item in line.new] == [("turn_gentle", "44")]
    assert (line.settled.who, line.settled.reason) == ("Ines", "built alike")
    left = {one.group: one.why for one in done.left}
    assert all(
        "touches safety" in left[g.id] for g in done.made.plan.open_groups if g.consequence == "safety"
    )
    assert set(left) == {g.id for g in done.made.plan.open_groups}
    assert any(line.startswith("left open: ") for line in as_before_sheet(done).notes)
    assert {one["group"] for one in as_before_json(done)["left_open"]} == set(left)
    entries = [e for e in work.store.book("finch") if e.kind == "decision"]
    assert all(entry.body["decided_before_in"] == ["wren-r1"] for entry in entries)
    with pytest.raises(UsageError, match="nothing open can be settled as before") as refused:
        decide.as_before(work, "finch", "again")
    assert any("touches safety" in fault.what for fault in refused.value.faults)


def test_it_needs_a_reason_and_an_earlier_decision(work):
    add(work, "finch")
    made = plan(work, "finch")
    with pytest.raises(UsageError, match="say why"):
        decide.as_before(work, "finch", " ")
    home = next(g for g in made.plan.open_groups if any("home_east" in str(x.old) for x in g.lines))
    with pytest.raises(UsageError, match="nothing decided before can be taken for home_east"):
        decide.decide(work, "finch", decide.Choice(home.id, "as-before", "as there"))


def test_a_decision_taken_back_does_not_count():
    work = place()
    add(work, "wren")
    settle(work, "wren", "idle_turns", "factory")
    add(work, "finch")
    assert recommended(plan(work, "finch"), "idle_turns") == ["factory"]
    decide.undo(work, "wren", "not sure")
    made = plan(work, "finch")
    assert line_about(made, "idle_turns").before is None


def test_a_refit_that_went_back_is_told_and_recommends_nothing(work):
    add(work, "finch")
    plain = recommended(plan(place_like(), "finch"), "turn_soft")
    with_state(work, "wren-r1", state=State.WENT_BACK)
    made = plan(work, "finch")
    line = line_about(made, "turn_soft")
    assert line.before.option is None
    assert recommended(made, "turn_soft") == plain
    group = next(g for g in made.plan.open_groups if line in g.lines)
    assert any("that refit went back" in note for note in slip_sheet(made, group).notes)
    with pytest.raises(UsageError, match="nothing open"):
        decide.as_before(work, "finch", "built alike")


def place_like():
    made = place()
    add(made, "finch")
    return made


def test_decisions_that_agree_are_counted_and_those_that_differ_recommend_nothing(work):
    for name, option in (("finch", "keep"), ("robin", "factory")):
        add(work, name)
        settle(work, name, "idle_turns", option, f"reason of {name}")
    add(work, "tern")
    made = plan(work, "tern")
    line = line_about(made, "idle_turns")
    assert line.before.disagrees
    assert recommended(made, "idle_turns") == []
    assert set(ways(made, "idle_turns")[:2]) == {"keep", "factory"}
    group = next(g for g in made.plan.open_groups if line in g.lines)
    text = " ".join(slip_sheet(made, group).notes)
    assert "for 2 aircraft (wren, finch), last for finch on" in text
    assert "reason of robin" in text
    assert "they disagree, so none is recommended" in text
    done = decide.as_before(work, "tern", "built alike")
    assert "disagrees" in next(one.why for one in done.left if one.group == group.id)
    assert line_about(done.made, "idle_turns").is_open


@pytest.mark.parametrize(
    "more",
    [
        {"to_release": "thrush-3.0"},
        {"from_release": "thrush-0.9"},
        {"purpose": Purpose.SISTER},
        {"device": "esc"},
    ],
)
def test_only_the_same_job_between_the_same_releases_counts(work, more):
    with_state(work, "wren-r1", **more)
    add(work, "finch")
    assert all(line.before is None for line in plan(work, "finch").plan.lines)


def test_a_decision_of_nobody_named_does_not_count(work):
    found = kept.refit(work.store, "wren-r1").refit
    nameless = tuple(replace(one, who="not stated") for one in found.decisions)
    with_state(work, "wren-r1", decisions=nameless)
    add(work, "finch")
    assert all(line.before is None for line in plan(work, "finch").plan.lines)


def test_one_aircraft_alone_is_told_nothing(work):
    made = plan(work, "wren")
    assert all(line.before is None for line in made.plan.lines)
    assert all(item.name != "decided before" for item in made.plan.inputs)
    assert open_sheet(made).notes == ()


# ------------------------------------------------------------------------------------------ values


def test_a_typed_value_is_offered_only_where_the_same_was_found():
    work = place()
    add(work, "wren")
    settle(work, "wren", "lean_most", "value", lean_most="42")
    add(work, "finch")
    add(work, "robin", lean_most="80")
    same, other = (plan(work, name) for name in ("finch", "robin"))
    assert line_about(same, "lean_most").before.typed == "42"
    before = line_about(other, "lean_most").before
    assert (before.option, before.typed) == (None, None)
    assert "42" in before.ways[0].says
    assert "another value was found there" in before.ways[0].doubt
    assert all(item.value != "42" for way in line_about(other, "lean_most").ways for item in way.new)
    group = next(g for g in same.plan.open_groups if line_about(same, "lean_most") in g.lines)
    choice = decide.Choice(group.id, "as-before", "same frame", only=("lean_most",))
    line = line_about(decide.decide(work, "finch", choice), "lean_most")
    assert (line.new[0].value, line.settled.option) == ("42", "value")


def test_a_private_value_is_told_without_the_value():
    work = place()
    add(work, "wren")
    settle(work, "wren", "home_east", "value", home_east="63")
    add(work, "finch")
    made = plan(work, "finch")
    assert "a private value" in line_about(made, "home_east").before.ways[0].says
    assert line_about(made, "home_east").before.option is None
    body = json.dumps(carry_json(made)["lines"])
    assert '"63"' not in body
    assert "set to 63" not in body


# ------------------------------------------------------------------------------------------ the seal


def test_a_decision_elsewhere_holds_the_plan_up_only_where_it_would_offer_another_way():
    work = place()
    add(work, "wren")
    add(work, "finch")
    add(work, "robin")
    plan(work, "finch")
    settle(work, "wren", "idle_turns", "factory", "the maker's")
    with pytest.raises(Stale) as stale:
        decide.open_plan(work, "finch")
    (fault,) = stale.value.faults
    assert fault.where == "decided before: idle_turns"
    assert "R. Anley decided factory for wren" in fault.what
    assert recommended(plan(work, "finch"), "idle_turns") == ["factory"]
    settle(work, "robin", "idle_turns", "factory", "the same")
    decide.open_plan(work, "finch")  # one more that agrees moves nothing
    settle(work, "finch", "idle_turns", "factory")
    decide.undo(work, "wren", "not sure")
    settle(work, "wren", "idle_turns", "keep")
    decide.open_plan(work, "finch")  # decided here already


def test_what_is_decided_here_stays_when_something_is_decided_elsewhere():
    work = place()
    add(work, "wren")
    add(work, "finch")
    settle(work, "finch", "turn_soft", "retire", "not on this one")
    settle(work, "wren", "turn_soft", "rename")
    settle(work, "wren", "idle_turns", "factory")
    made = plan(work, "finch")
    assert made.plan.lapsed == ()
    assert line_about(made, "turn_soft").settled.option == "retire"


def test_what_is_all_decided_is_written_out_whatever_is_decided_elsewhere(work):
    work_of_wren = settle(work, "wren", "home_east", "nearest")
    assert not work_of_wren.plan.open_groups
    add(work, "finch")
    settle(work, "finch", "idle_turns", "factory")
    assert write_out(work, "wren").job.refit.state is State.WRITTEN_OUT


# ------------------------------------------------------------------------------------------ hand-over


def test_a_hand_over_tells_nothing_of_whom_decided_it_for_another_aircraft(work):
    add(replace(work, who="Ines"), "finch")
    mine = replace(work, store=work.store, who="Ines")
    plan(mine, "finch")
    decide.as_before(mine, "finch", "built alike")
    bag = hand_over(mine, "finch")
    everything = b"".join(bag.files.values())
    assert b"built alike" in everything
    assert b"as it flew" not in everything
    assert b"rename, decided so" not in everything


def test_what_was_received_counts_with_its_origin(work):
    bag = hand_over(work, "wren", with_private=True)
    there = place()
    receive(there, bag.files, "wren.zip")
    add(there, "finch")
    before = line_about(plan(there, "finch"), "turn_soft").before
    assert {(one.aircraft, one.who) for one in before.origins} == {("wren", "R. Anley")}


def test_what_was_received_without_private_brings_no_decisions(work):
    bag = hand_over(work, "wren")
    there = place()
    receive(there, bag.files, "wren.zip")
    add(there, "finch")
    assert all(line.before is None for line in plan(there, "finch").plan.lines)


# --------------------------------------------------------------------------------- successors decided


def test_a_successor_nobody_proposes_any_more_is_still_offered(work):
    """The person's choice is known by its name, also where the proposals are others now."""
    add(work, "finch", turn_soft="44")
    less = changed(AFTER, catalog=replace(AFTER.catalog, parameters=tuple(
        replace(p, description=None, unit=None) if p.name in ("turn_gentle", "nod_gentle") else p
        for p in AFTER.catalog.parameters
    )))  # fmt: skip
    put(work, "release", AFTER.id, less)
    line = line_about(plan(work, "finch"), "turn_soft")
    assert line.is_open
    first = line.ways[0]
    assert [(item.key.name, item.value) for item in first.new] == [("turn_gentle", "44")]
    done = carry_over.make_plan(work, carry_over.Ask("finch"))
    group = next(g for g in done.plan.open_groups if line.id in [x.id for x in g.lines])
    made = decide.decide(work, "finch", decide.Choice(group.id, "as-before", "it is", only=("turn_soft",)))
    assert line_about(made, "turn_soft").new[0].key.name == "turn_gentle"


def test_left_behind_unchanged_is_no_example_for_one_that_was_changed():
    alone = replace(BEFORE.catalog, parameters=tuple(
        p for p in BEFORE.catalog.parameters if p.name not in ("nod_soft",)
    ))  # fmt: skip
    gone = replace(AFTER.catalog, parameters=tuple(
        p for p in AFTER.catalog.parameters if p.name not in ("turn_gentle", "nod_gentle", "brake_firm")
    ))  # fmt: skip
    work = place(changed(BEFORE, catalog=alone), changed(AFTER, catalog=gone))
    add(work, "wren", turn_soft="20")
    settle(work, "wren", "turn_soft", "retire")
    add(work, "finch", turn_soft="31")
    add(work, "robin", turn_soft="20")
    assert line_about(plan(work, "robin"), "turn_soft").before.option == "retire"
    before = line_about(plan(work, "finch"), "turn_soft").before
    assert before.option is None
    assert before.ways[0].doubt == "nobody had changed it there, and somebody has here"
