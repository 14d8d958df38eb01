"""Laws of the carry-over on generated catalogs, notes and records, sensible or not."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asflown.core.carry.carry import Question, carry_over
from asflown.core.carry.dispositions import Basis, Disposition
from asflown.core.carry.settle import Decision, settle
from asflown.core.catalog import (
    Belonging,
    Catalog,
    CatalogSource,
    ChangeNote,
    ChangeNotes,
    Choice,
    Consequence,
    ConversionSpec,
    NoteKind,
    ParameterDef,
    Release,
    ValueKind,
)
from asflown.core.plan import Purpose
from asflown.core.record import Extent, Moment, Record, Setting

NAMES = st.sampled_from(
    [f"{a}.{b}" for a in ("turn", "climb", "lamp", "link") for b in ("gain", "time", "mode", "low")]
)
UNITS = st.sampled_from([None, None, "s", "ms", "deg", "rad", "V", "widgets"])
LABELS = ("off", "hold", "descend", "stop")


@st.composite
def definitions(draw, name: str) -> ParameterDef:
    kind = draw(st.sampled_from([ValueKind.INTEGER, ValueKind.REAL, ValueKind.CHOICE, ValueKind.UNKNOWN]))
    choices: tuple[Choice, ...] = ()
    low = high = None
    if kind is ValueKind.CHOICE:
        labels = draw(st.permutations(LABELS))
        choices = tuple(Choice(str(i), label) for i, label in enumerate(labels[: draw(st.integers(2, 4))]))
    elif draw(st.booleans()):
        low, high = Decimal(0), draw(st.sampled_from([Decimal(5), Decimal(100), Decimal(100000)]))
    return ParameterDef(
        name=name,
        kind=kind,
        unit=None if kind is ValueKind.CHOICE else draw(UNITS),
        minimum=low,
        maximum=high,
        default=draw(st.sampled_from([None, "0", "1", "2", "10", "300"])),
        choices=choices,
        description=draw(st.sampled_from([None, "How fast it turns", "When the lamp goes on"])),
        consequence=draw(st.sampled_from(list(Consequence))),
        belonging=draw(st.sampled_from(list(Belonging))),
        plain_values=draw(st.sampled_from([(), (Choice("0", "off"),)])),
        redo=draw(st.sampled_from([None, None, None, None, "turn it over by hand"])),
        read_only=draw(st.sampled_from([False, False, False, True])),
        banks=draw(st.sampled_from([(), (), ("set 1", "set 2")])),
        unit_from=draw(st.sampled_from([None, None, None, "lamp.mode"])),
    )


@st.composite
def change_notes(draw, old_names, new_names) -> ChangeNotes:
    changes = []
    for _ in range(draw(st.integers(0, 6))):
        kind = draw(st.sampled_from(list(NoteKind)))
        count = 2 if kind is NoteKind.MERGE else 1
        old = tuple(draw(st.lists(st.sampled_from(old_names), min_size=count, max_size=count, unique=True)))
        width = {NoteKind.RETIRE: 0, NoteKind.SPLIT: 2, NoteKind.MEANING: 0, NoteKind.DEFAULT: 0}.get(kind, 1)
        new = tuple(draw(st.lists(st.sampled_from(new_names), min_size=width, max_size=width, unique=True)))
        spec = ConversionSpec()
        if kind is NoteKind.CONVERT:
            spec = draw(
                st.sampled_from(
                    [
                        ConversionSpec(factor=Decimal(10)),
                        ConversionSpec(unit_from="s", unit_to="ms"),
                        ConversionSpec(choices={"0": "1", "1": "0"}),
                    ]
                )
            )
        consequence = draw(st.sampled_from([None, *Consequence]))
        changes.append(ChangeNote(kind, old, new, spec, "because", consequence))
    return ChangeNotes("old-1", "new-2", tuple(changes), complete=draw(st.booleans()))


@st.composite
def questions(draw) -> Question:
    old_names = draw(st.lists(NAMES, min_size=2, max_size=9, unique=True))
    new_names = draw(st.lists(NAMES, min_size=2, max_size=9, unique=True))
    old_defs = tuple(draw(definitions(name)) for name in old_names)
    new_defs = tuple(draw(definitions(name)) for name in new_names)
    sources = st.sampled_from([CatalogSource.STATED, CatalogSource.STATED, CatalogSource.FACTORY_LISTING])
    old = Release("old-1", "old", "1", catalog=Catalog(old_defs, draw(sources)))
    new = Release("new-2", "new", "2", catalog=Catalog(new_defs, draw(sources)))
    keys = [key for parameter in old_defs for key in parameter.keys()]
    shown = draw(st.lists(st.sampled_from(keys), min_size=1, unique=True))
    values = st.sampled_from(["0", "1", "2", "7", "10", "2.5", "300", "-1", "on", ""])
    record = Record(
        "plover-001",
        "plover",
        "board",
        Moment.AS_FOUND,
        "old-1",
        None,
        "2026-03-01T10:00:00+00:00",
        tuple(Setting(key, draw(values)) for key in shown),
        draw(st.sampled_from([Extent.FULL, Extent.CHANGES_ONLY, Extent.UNKNOWN])),
    )
    notes = draw(st.one_of(st.just(()), change_notes(old_names, new_names).map(lambda n: (n,))))
    return Question(
        record=record,
        old=draw(st.sampled_from([old, old, None])),
        new=new,
        notes=notes,
        purpose=draw(st.sampled_from([Purpose.REFIT, Purpose.REFIT, Purpose.NEW_BOARD, Purpose.SISTER])),
    )


def assert_accounted(plan, question) -> None:
    """Each found setting and each new one stands in exactly one line, and the sum adds up."""
    found = Counter(item.key for line in plan.lines for item in line.old)
    assert set(found.values()) <= {1}
    assert set(question.record.values) <= set(found)
    assert plan.account.found == len(found)
    assert plan.account.adds_up
    new = Counter(item.key for line in plan.lines for item in line.new)
    assert set(new.values()) <= {1}, new
    assert set(new) >= set(question.new.catalog.keys)


RELAXED = settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], deadline=None)


@RELAXED
@given(questions())
def test_every_setting_has_exactly_one_disposition(question):
    assert_accounted(carry_over(question), question)


@RELAXED
@given(questions())
def test_nothing_risky_is_inferred(question):
    for line in carry_over(question).lines:
        if line.basis is Basis.INFERRED and line.consequence.is_risky:
            assert line.is_open
        if line.is_open:
            assert all(item.value is None for item in line.new), "an open line leaves no value"


@RELAXED
@given(questions())
def test_the_same_release_changes_nothing(question):
    catalog = Catalog(question.new.catalog.parameters, CatalogSource.STATED)
    release = Release("same-1", "same", "1", catalog=catalog)
    settings_ = tuple(Setting(key, "1") for key in catalog.keys)
    record = Record("a-1", "a", "board", Moment.AS_FOUND, "same-1", None, "t", settings_, Extent.FULL)
    plan = carry_over(Question(record, release, release))
    fine = [d for d in catalog.parameters if d.redo is None]
    for line in plan.lines:
        if line.old[0].key.name in {d.name for d in fine} and not line.is_open:
            assert line.disposition is Disposition.KEEP
            assert line.new[0].key == line.old[0].key
        if line.is_open:
            assert line.cause is not None
            assert line.cause.name == "OUT_OF_RANGE"
    assert plan.account.new == 0


@RELAXED
@given(questions(), st.data())
def test_no_decision_is_silently_lost_and_the_sum_still_adds_up(question, data):
    base = carry_over(question)
    made = []
    for group in base.open_groups:
        options = group.option_ids
        if not options or data.draw(st.booleans()):
            continue
        option = data.draw(st.sampled_from(options))
        lines = {line.id: line.fingerprint for line in group.lines}
        values = {line.id: "1" for line in group.lines} if option == "value" else {}
        made.append(Decision(group.id, option, lines, "tried it", "Ada", "t", values))
    plan = settle(base, made)
    decided = {identifier for decision in made for identifier in decision.lines}
    settled = {line.id for line in plan.lines if line.settled is not None}
    dropped = decided - settled
    assert len(dropped) <= len(plan.lapsed), "what was not applied is said"
    if not plan.lapsed:
        assert settled == decided
    assert_accounted(plan, question)


@RELAXED
@given(questions(), st.data())
def test_a_decision_about_other_facts_does_not_apply(question, data):
    base = carry_over(question)
    open_lines = [line for line in base.lines if line.is_open and line.options]
    if not open_lines:
        return
    line = data.draw(st.sampled_from(open_lines))
    stale = Decision(line.group, line.options[0].id, {line.id: "0" * 16}, "why", "Ada", "t")
    plan = settle(base, [stale])
    assert len(plan.lapsed) == 1
    assert next(item for item in plan.lines if item.id == line.id).is_open


@RELAXED
@given(questions(), st.data())
def test_reversing_twice_gives_the_plan_back(question, data):
    base = carry_over(question)
    decisions = [
        Decision(g.id, g.option_ids[0], {x.id: x.fingerprint for x in g.lines}, "w", "Ada", "t")
        for g in base.open_groups
        if g.option_ids and g.option_ids[0] != "value"
    ]
    plan = settle(base, decisions)
    closed = [line for line in plan.lines if not line.is_open and all(n.value is not None for n in line.new)]
    for line in closed:
        back = line.reverse().reverse()
        assert back.disposition is line.disposition
        assert [(item.key, item.value) for item in back.old] == [(item.key, item.value) for item in line.old]
        assert [(item.key, item.value) for item in back.new] == [(item.key, item.value) for item in line.new]
