"""A successor that was decided before is offered by name, though nobody proposes it here."""

from __future__ import annotations

from asflown.core.carry.before import Origin
from asflown.core.carry.carry import Question, carry_over
from asflown.core.carry.dispositions import Cause, Disposition
from asflown.core.carry.precedent import How, Precedent
from asflown.core.carry.settle import Decision, settle
from asflown.core.catalog import Catalog, CatalogSource, Consequence, ParameterDef, Release, ValueKind
from asflown.core.record import Extent, Key, Moment, Record, Setting

ORIGIN = Origin("wren", "wren-r1", "R. Anley", "2026-11-20T10:00:00+00:00", "seen in the wiring book")


def release(id, *parameters):
    return Release(id, "thrush", id[-1], Catalog(parameters, CatalogSource.STATED))


def whole(name, unit, default):
    return ParameterDef(
        name, kind=ValueKind.INTEGER, unit=unit, default=default, consequence=Consequence.HANDLING
    )


def question(found, *precedents):
    record = Record(
        "finch-001", "finch", "board", Moment.AS_FOUND, "thrush-1", None, "t",
        (Setting(Key("calm"), found),), Extent.FULL,
    )  # fmt: skip
    old, new = release("thrush-1", whole("calm", "s", "4")), release("thrush-2", whole("zest", "ms", "90"))
    return Question(record, old, new, precedents=precedents)


def nobody(unplaced):
    """A matcher that proposes nothing."""
    return ()


TAKEN_FOR_ZEST = Precedent(
    (Key("calm"),), ("7",), Cause.SUCCESSOR, "rename", Disposition.CONVERT, (Key("zest"),), How.CONVERTED, ORIGIN
)  # fmt: skip


def test_it_is_offered_with_the_value_that_follows_from_what_was_found_here():
    plan = carry_over(question("3", TAKEN_FOR_ZEST), nobody)
    line = next(line for line in plan.lines if line.old)
    assert line.is_open
    assert [option.id for option in line.options] == ["retire"], "nobody else offers it"
    first = line.ways[0]
    assert (first.id, first.is_recommended) == ("rename-zest", True)
    assert [(str(item.key), item.value) for item in first.new] == [("zest", "3000")]
    choice = Decision(line.group, "rename-zest", {line.id: line.fingerprint}, "so it is", "Ada", "t")
    settled = settle(plan, [choice])
    done = next(one for one in settled.lines if one.old)
    assert (done.disposition, done.new[0].value) == (Disposition.CONVERT, "3000")
    assert not settled.lapsed
    without = settle(carry_over(question("3"), nobody), [choice])
    assert "not offered any more" in without.lapsed[0], "it rests on what was decided before, and says so"


def test_a_name_the_new_release_has_not_is_told_and_not_offered():
    elsewhere = Precedent(
        (Key("calm"),), ("7",), Cause.SUCCESSOR, "rename", Disposition.RENAME, (Key("gone"),), How.SAME, ORIGIN
    )  # fmt: skip
    line = next(line for line in carry_over(question("3", elsewhere), nobody).lines if line.old)
    assert line.before.option is None
    assert line.before.ways[0].doubt == "that way is not offered here"
    assert line.ways == line.options
