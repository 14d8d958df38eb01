"""Laws of what was decided before, on generated catalogs: it is offered beside a line, it settles nothing."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from test_carry_laws import RELAXED, assert_accounted, questions

from asflown.core.carry.before import Ended, Origin
from asflown.core.carry.carry import Question, carry_over, offered
from asflown.core.carry.dispositions import Basis, Line
from asflown.core.carry.offering import ONE_BY_ONE, offers
from asflown.core.carry.precedent import How, Precedent, precedents_of
from asflown.core.carry.settle import Decision, settle
from asflown.core.plan import Plan
from asflown.core.record import Setting

VALUES = st.sampled_from(["0", "1", "2", "7", "10", "2.5", "300", "-1"])


@st.composite
def decisions_about(draw, plan: Plan) -> list[Decision]:
    """What a person may decide about each open line of a plan, or leave open."""
    made = []
    for line in plan.lines:
        if not line.is_open or not line.ways or draw(st.integers(0, 4)) == 0:
            continue
        option = draw(st.sampled_from([way.id for way in line.ways]))
        values = {line.id: draw(VALUES)} if option == "value" else {}
        made.append(
            Decision(line.group, option, {line.id: line.fingerprint}, "as it flew", "R. Anley", "t", values)
        )
    return made


@st.composite
def told(draw, question: Question, aircraft: str) -> list[Precedent]:
    """What was decided for another aircraft of these releases, with other values found on it or the same."""
    settings = tuple(
        Setting(setting.key, draw(st.sampled_from([setting.value, "1", "10"])))
        for setting in question.record.settings
    )
    plan = carry_over(replace(question, record=replace(question.record, settings=settings)))
    ended = draw(st.sampled_from(list(Ended)))
    origin = Origin(aircraft, f"{aircraft}-r1", "", "", "", ended)
    return precedents_of(plan.lines, draw(decisions_about(plan)), origin)


@st.composite
def situations(draw) -> tuple[Question, Question]:
    """A question, and the same one after other aircraft were decided."""
    question = draw(questions())
    precedents = [one for name in ("knot", "dunlin") for one in draw(told(question, name))]
    return question, replace(question, precedents=tuple(precedents))


def without(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    return tuple(replace(line, before=None, ways_before=()) for line in lines)


@RELAXED
@given(situations())
def test_a_precedent_settles_no_line_and_changes_none(both):
    bare, informed = map(carry_over, both)
    assert without(informed.lines) == bare.lines
    assert informed.digest == bare.digest
    assert [line.fingerprint for line in informed.lines] == [line.fingerprint for line in bare.lines]
    assert all(line.is_open for line in informed.lines if line.before is not None)


@RELAXED
@given(situations())
def test_nothing_risky_is_inferred_whatever_was_decided_before(both):
    for line in carry_over(both[1]).lines:
        if line.consequence.is_risky and (line.before is not None or line.basis is Basis.INFERRED):
            assert line.is_open
        if line.is_open:
            assert all(item.value is None for item in line.new), "an open line leaves no value"


@RELAXED
@given(situations())
def test_never_more_is_asked_and_safety_stands_alone(both):
    bare, informed = map(carry_over, both)
    assert len(informed.open_groups) <= len(bare.open_groups)
    assert {x.id for g in informed.open_groups for x in g.lines} == {
        x.id for g in bare.open_groups for x in g.lines
    }
    own = {group.id for group in bare.open_groups}
    for group in informed.open_groups:
        if group.id not in own:
            assert len({line.consequence for line in group.lines}) == 1
            assert group.consequence not in ONE_BY_ONE


@RELAXED
@given(situations(), st.data())
def test_settling_all_as_before_keeps_the_account(both, data):
    plan = carry_over(both[1])
    decisions = [
        Decision(
            line.group,
            option,
            {line.id: line.fingerprint},
            "as there",
            "Ada",
            "t",
            {line.id: value} if value is not None else {},
        )
        for line in plan.lines
        for option, value in [offers(plan.lines).get(line.id, (None, None))]
        if option is not None and data.draw(st.booleans())
    ]
    settled = settle(plan, decisions)
    assert_accounted(settled, both[1])
    done = {id for decision in decisions for id in decision.lines}
    kept = {line.id for line in settled.lines if line.settled is not None}
    assert len(done - kept) <= len(settled.lapsed), "what was not applied is said"


@RELAXED
@given(situations())
def test_what_disagrees_recommends_nothing(both):
    for line in carry_over(both[1]).lines:
        if line.before is None:
            continue
        counted = {(way.option, way.says) for way in line.before.ways if way.counts}
        if len(counted) > 1:
            assert line.before.option is None
            assert not any(way.is_recommended for way in line.ways)
            first = {way.id for way in line.ways[: len({option for option, _ in counted})]}
            assert first == {option for option, _ in counted}, "each decided way is offered, and first"
        if line.before.option is not None:
            assert line.ways[0].id == line.before.option
            marked = [way.id for way in line.ways if way.is_recommended]
            assert marked == ([] if line.before.typed is not None else [line.before.option])


@RELAXED
@given(situations())
def test_what_went_back_is_told_and_recommends_nothing(both):
    question = both[1]
    gone = tuple(
        replace(one, origin=replace(one.origin, ended=Ended.WENT_BACK)) for one in question.precedents
    )
    plan = carry_over(replace(question, precedents=gone))
    assert offers(plan.lines) == {}
    about = {line.old[0].key for line in plan.lines if line.is_open and line.old}
    wanted = {one.old[0] for one in gone if one.old} & about
    told_of = {line.old[0].key for line in plan.lines if line.before is not None and line.old}
    assert wanted <= told_of


@RELAXED
@given(situations())
def test_no_value_of_the_other_aircraft_comes_over(both):
    """Whatever was found or typed there, what is offered here is made from what was found here."""
    foreign = "8642.97531"
    strange = tuple(
        replace(one, found=(foreign,) * len(one.found), typed=foreign if one.how is How.TYPED else None)
        for one in both[1].precedents
    )
    for line in carry_over(replace(both[1], precedents=strange)).lines:
        assert all(item.value != foreign for way in line.ways for item in way.new)
        assert line.before is None or line.before.typed is None


@RELAXED
@given(situations())
def test_offering_again_says_the_same(both):
    lines = carry_over(both[1]).lines
    assert offered(both[1], lines) == lines
    assert offered(both[0], lines) == carry_over(both[0]).lines
