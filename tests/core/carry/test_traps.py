"""The traps that hurt people, each worked by hand: what must be asked, converted or kept."""

from __future__ import annotations

from decimal import Decimal as D

import pytest

from asflown.core.carry.carry import Question, carry_over
from asflown.core.carry.dispositions import Basis, Cause, Disposition
from asflown.core.catalog import (
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
from asflown.core.record import Extent, Key, Moment, Record, Setting

SAFETY, HANDLING, COMFORT, UNKNOWN = (
    Consequence.SAFETY,
    Consequence.HANDLING,
    Consequence.COMFORT,
    Consequence.UNKNOWN,
)


def real(name, **more):
    more.setdefault("consequence", SAFETY)
    return ParameterDef(name, kind=ValueKind.REAL, **more)


def choice(name, labels, **more):
    more.setdefault("consequence", SAFETY)
    return ParameterDef(
        name,
        kind=ValueKind.CHOICE,
        choices=tuple(Choice(str(i), label) for i, label in enumerate(labels)),
        **more,
    )


def plan_of(old, new, found, *notes, complete=False, source=CatalogSource.STATED, **more):
    old_release = Release("old-1", "old", "1", catalog=Catalog(tuple(old), source))
    new_release = Release("new-2", "new", "2", catalog=Catalog(tuple(new), source))
    settings = tuple(Setting(Key(name), value) for name, value in found.items())
    record = Record("p-1", "p", "board", Moment.AS_FOUND, "old-1", None, "t", settings, Extent.FULL)
    chain = (ChangeNotes("old-1", "new-2", tuple(notes), complete),) if notes or complete else ()
    return carry_over(Question(record, old_release, new_release, chain, **more))


def line_of(plan, name):
    return next(line for line in plan.lines if any(item.key.name == name for item in line.old))


def option(line, identifier):
    return next(o for o in line.options if o.id == identifier)


def test_a_time_in_a_new_unit_is_asked_and_the_converted_value_offered():
    # 1.5 s copied as 1.5 ms would act a thousand times too early (arithmetic: 1 s = 1000 ms, SI)
    plan = plan_of([real("hush.wait", unit="s")], [real("hush.wait", unit="ms")], {"hush.wait": "1.5"})
    line = line_of(plan, "hush.wait")
    assert line.is_open
    assert line.cause is Cause.NEW_UNIT
    assert option(line, "convert").new[0].value in ("1500", "1500.0")
    assert option(line, "convert").is_recommended
    assert "1000 times too small" in line.copied


def test_without_consequence_the_unit_is_converted_at_once():
    old, new = (
        real("lamp.wait", unit="s", consequence=COMFORT),
        real("lamp.wait", unit="ms", consequence=COMFORT),
    )
    line = line_of(plan_of([old], [new], {"lamp.wait": "2"}), "lamp.wait")
    assert line.disposition is Disposition.CONVERT
    assert D(line.new[0].value) == 2000


def test_off_stays_off_and_is_never_scaled():
    off = (Choice("0", "off"),)
    old = real("low.pack", unit="V", plain_values=off)
    new = real("low.pack", unit="mV", plain_values=(Choice("-1", "off"),), minimum=D(-1), maximum=D(30000))
    line = line_of(plan_of([old], [new], {"low.pack": "0"}), "low.pack")
    assert line.is_open
    assert option(line, "convert").new[0].value == "-1"


def test_a_note_that_copies_a_number_whose_unit_changed_is_not_followed():
    note = ChangeNote(NoteKind.RENAME, ("warn.cell",), ("warn.pack",), why="renamed")
    old = real("warn.cell", unit="V", role="battery.warning", factor=D(1))
    new = real("warn.pack", unit="mV", role="battery.warning", factor=D("0.001"))
    line = line_of(plan_of([old], [new], {"warn.cell": "3.5"}, note), "warn.cell")
    assert line.is_open
    assert line.cause is Cause.NOTE_DISAGREES
    assert D(option(line, "convert").new[0].value) == 3500


def test_a_note_with_its_factor_decides():
    note = ChangeNote(
        NoteKind.CONVERT,
        ("yaw.grip",),
        ("yaw.grip",),
        ConversionSpec(factor=D("0.01")),
        "in hundredths before",
    )
    plan = plan_of([real("yaw.grip")], [real("yaw.grip")], {"yaw.grip": "450"}, note)
    line = line_of(plan, "yaw.grip")
    assert (line.disposition, line.basis) == (Disposition.CONVERT, Basis.NOTE)
    assert D(line.new[0].value) == D("4.5")


def test_a_renumbered_safety_choice_is_matched_by_its_text_and_asked():
    old = choice("link.gone", ["land", "hover", "cut motors"])
    new = choice("link.gone", ["cut motors", "land", "hover"])
    line = line_of(plan_of([old], [new], {"link.gone": "0"}), "link.gone")
    assert line.is_open
    assert line.cause is Cause.RENUMBERED
    assert option(line, "convert").new[0].value == "1"
    assert "cut motors" in line.copied


def test_a_choice_that_is_gone_offers_no_meaning():
    old = choice("link.gone", ["land", "circle"])
    new = choice("link.gone", ["land", "hover"])
    line = line_of(plan_of([old], [new], {"link.gone": "1"}), "link.gone")
    assert line.is_open
    assert {o.id for o in line.options}.isdisjoint({"convert"})


def test_bits_that_moved_are_matched_one_by_one():
    bits_old = tuple(Choice(str(i), t) for i, t in enumerate(["horn", "lamp", "tilt"]))
    bits_new = tuple(Choice(str(i), t) for i, t in enumerate(["lamp", "horn", "wind", "tilt"]))
    old = ParameterDef("alarm.on", kind=ValueKind.BITS, bits=bits_old, consequence=COMFORT)
    new = ParameterDef("alarm.on", kind=ValueKind.BITS, bits=bits_new, consequence=COMFORT)
    # horn + tilt = 1 + 4 = 5 before; horn is bit 1 and tilt bit 3 now: 2 + 8 = 10
    line = line_of(plan_of([old], [new], {"alarm.on": "5"}), "alarm.on")
    assert (line.disposition, line.new[0].value) == (Disposition.CONVERT, "10")


def test_a_value_out_of_the_new_range_is_never_clipped_silently():
    old, new = real("spin.most", minimum=D(0), maximum=D(90)), real("spin.most", minimum=D(0), maximum=D(60))
    note = ChangeNote(NoteKind.RENAME, ("spin.most",), ("spin.most",))
    line = line_of(plan_of([old], [new], {"spin.most": "75"}, note), "spin.most")
    assert line.is_open
    assert line.cause is Cause.OUT_OF_RANGE
    assert D(option(line, "nearest").new[0].value) == 60


@pytest.mark.parametrize(
    ("consequence", "is_open"), [(SAFETY, True), (HANDLING, True), (UNKNOWN, True), (COMFORT, False)]
)
def test_a_factory_value_that_moved_under_a_setting_nobody_changed(consequence, is_open):
    words = {"description": "lowest motor command in flight", "consequence": consequence}
    old, new = real("idle.floor", default="4.5", **words), real("idle.floor", default="6", **words)
    line = line_of(plan_of([old], [new], {"idle.floor": "4.5"}), "idle.floor")
    assert line.is_open is is_open
    if is_open:
        assert line.cause is Cause.MOVED_FACTORY
        assert option(line, "factory").new[0].value == "6"
    else:
        assert line.new[0].value == "4.5"


def test_a_setting_somebody_changed_is_kept_though_the_factory_value_moved():
    words = {"description": "lowest motor command in flight"}
    old, new = real("idle.floor", default="4.5", **words), real("idle.floor", default="6", **words)
    line = line_of(plan_of([old], [new], {"idle.floor": "5"}), "idle.floor")
    assert (line.disposition, line.new[0].value) == (Disposition.KEEP, "5")


def test_a_retired_safety_function_is_a_finding_with_its_consequence():
    note = ChangeNote(NoteKind.RETIRE, ("tip.stop",), why="the tip-over stop was taken out")
    plan = plan_of(
        [real("tip.stop", consequence_why="motors run on after a tip-over")],
        [real("x")],
        {"tip.stop": "1"},
        note,
    )
    assert line_of(plan, "tip.stop").disposition is Disposition.RETIRE
    assert any("motors run on" in finding.statement for finding in plan.findings)


def test_two_plausible_successors_are_both_offered_and_none_is_taken():
    old = real("tilt.limit", unit="deg", consequence=HANDLING)
    new = [real("tilt.limit.hold", unit="deg"), real("tilt.limit.free", unit="deg")]
    line = line_of(plan_of([old], new, {"tilt.limit": "35"}), "tilt.limit")
    assert line.is_open
    assert {"rename", "second"} <= {o.id for o in line.options}


def test_calibrations_are_redone():
    old = ParameterDef("level.x", redo="set it level, press level", consequence=HANDLING)
    line = line_of(plan_of([old], [old], {"level.x": "0.31"}), "level.x")
    assert line.disposition is Disposition.REDO
    assert line.new[0].value is None


def test_two_bare_listings_ask_about_what_was_changed_and_write_nothing_by_themselves():
    bare = [
        ParameterDef(n, default=d)
        for n, d in [("a.one", "5"), ("b.two", "7"), ("c.three", "9"), ("d.four", "1")]
    ]
    bare_new = [ParameterDef(n, default=d) for n, d in [("a.one", "5"), ("b.two", "700"), ("c.three", "9")]]
    plan = plan_of(
        bare,
        bare_new,
        {"a.one": "5", "b.two": "7", "c.three": "8", "d.four": "1"},
        source=CatalogSource.FACTORY_LISTING,
    )
    assert line_of(plan, "a.one").disposition is Disposition.KEEP
    assert line_of(plan, "b.two").cause is Cause.MOVED_FACTORY
    assert line_of(plan, "c.three").cause is Cause.UNSTATED
    assert line_of(plan, "d.four").cause is Cause.VANISHED_UNTOUCHED
    written = [n for line in plan.lines for n in line.new if n.value is not None and n.value != n.factory]
    assert written == []


@pytest.mark.parametrize(("texts", "is_open"), [(["foot", "metre"], False), (["yard", "foot"], True)])
def test_a_unit_that_depends_on_another_setting_moves_with_it(texts, is_open):
    mode_old = choice("alt.unit", ["metre", "foot"], consequence=COMFORT)
    mode_new = choice("alt.unit", texts, consequence=COMFORT)
    old = real("alt.most", unit_from="alt.unit", description="highest altitude")
    plan = plan_of([mode_old, old], [mode_new, old], {"alt.unit": "0", "alt.most": "50"})
    assert line_of(plan, "alt.most").is_open is is_open
    if not is_open:
        assert line_of(plan, "alt.unit").new[0].value == "1"


@pytest.mark.parametrize("value", ["0", "-1"])
def test_a_bare_zero_under_a_new_unit_may_be_a_word_nobody_stated(value):
    """0 s was 'never' and 0 ms is 'at once': with no word stated on either side a person decides."""
    old, new = real("silent.cut", unit="s"), real("silent.cut", unit="ms")
    line = line_of(plan_of([old], [new], {"silent.cut": value}), "silent.cut")
    assert line.is_open


def test_a_changed_value_that_happens_to_be_the_new_factory_value_is_asked_when_nothing_states_its_meaning():
    old, new = ParameterDef("sift.kind", default="1"), ParameterDef("sift.kind", default="2")
    plan = plan_of([old], [new], {"sift.kind": "2"}, source=CatalogSource.FACTORY_LISTING)
    assert line_of(plan, "sift.kind").is_open


def test_one_unit_alone_does_not_say_what_a_name_means():
    old, new = real("hover.push", unit="%", default="40"), real("hover.push", unit="%", default="40")
    line = line_of(plan_of([old], [new], {"hover.push": "38"}), "hover.push")
    assert line.cause is Cause.UNSTATED


@pytest.mark.parametrize(
    ("words_old", "words_new", "converted"),
    [
        ({"0": "automatic"}, {"0": "off", "-1": "automatic"}, "-1"),  # the word moved
        ({"0": "automatic"}, {"0": "off"}, None),  # the word is gone, its number means another one
        ({"-1": "automatic"}, {"0": "off"}, None),  # a number became a word
    ],
)
def test_a_word_that_moved_within_one_range_is_asked(words_old, words_new, converted):
    def made(words):
        plain = tuple(Choice(value, label) for value, label in words.items())
        return real(
            "gust.hold", unit="s", minimum=D(-1), maximum=D(9), plain_values=plain, description="holds"
        )

    line = line_of(plan_of([made(words_old)], [made(words_new)], {"gust.hold": "0"}), "gust.hold")
    assert line.is_open
    offered = {o.id: o.new[0].value for o in line.options}
    assert offered.get("convert") == converted


def test_a_word_that_stayed_is_kept():
    plain = (Choice("0", "off"),)
    old = real("gust.hold", plain_values=plain, description="holds against gusts")
    line = line_of(plan_of([old], [old], {"gust.hold": "0"}), "gust.hold")
    assert line.disposition is Disposition.KEEP


def test_a_noted_rename_does_not_carry_a_bare_zero_over_a_new_unit():
    """0 s may have been 'never': the note copies the number, and no catalog says a word about 0."""
    note = ChangeNote(NoteKind.RENAME, ("silent.cut",), ("silent.end",))
    old, new = real("silent.cut", unit="s"), real("silent.end", unit="ms")
    assert line_of(plan_of([old], [new], {"silent.cut": "0"}, note), "silent.cut").is_open


def test_a_noted_rename_does_not_turn_a_number_into_a_word():
    note = ChangeNote(NoteKind.RENAME, ("gust.hold",), ("gust.lean",))
    new = real("gust.lean", plain_values=(Choice("0.0", "off"),))
    line = line_of(plan_of([real("gust.hold")], [new], {"gust.hold": "0"}, note), "gust.hold")
    assert line.is_open
    assert "'off'" in line.why


def chained(first, second, old, new, found):
    """A plan over a release between, of which only notes are known."""
    chain = (ChangeNotes("old-1", "mid-1", (first,)), ChangeNotes("mid-1", "new-2", (second,)))
    old_release = Release("old-1", "old", "1", catalog=Catalog(tuple(old), CatalogSource.STATED))
    new_release = Release("new-2", "new", "2", catalog=Catalog(tuple(new), CatalogSource.STATED))
    settings = tuple(Setting(Key(name), value) for name, value in found.items())
    record = Record("p-1", "p", "board", Moment.AS_FOUND, "old-1", None, "t", settings, Extent.FULL)
    return carry_over(Question(record, old_release, new_release, chain))


def test_a_word_of_the_old_release_is_not_seen_in_a_value_that_was_converted_on_the_way():
    # 0.1 * 1000 = 100 between the releases; 100 meant 'automatic' only before: 100 * 2 = 200
    first = ChangeNote(NoteKind.CONVERT, ("wait",), ("wait.ms",), ConversionSpec(factor=D(1000)))
    second = ChangeNote(NoteKind.CONVERT, ("wait.ms",), ("wait.half",), ConversionSpec(factor=D(2)))
    plain = (Choice("100", "automatic"),)
    old, new = real("wait", plain_values=plain), real("wait.half", plain_values=(Choice("-1", "automatic"),))
    line = line_of(chained(first, second, [old], [new], {"wait": "0.1"}), "wait")
    assert D(line.new[0].value) == 200
    line = line_of(chained(first, second, [old], [new], {"wait": "100"}), "wait")
    assert line.new[0].value == "-1", "the word itself goes through both steps as a word"


def test_a_merge_after_a_rename_still_knows_a_word():
    first = ChangeNote(NoteKind.RENAME, ("warn",), ("warn.pack",))
    merge = ConversionSpec(expressions={"warn.cell": '"warn.pack" / cells'})
    second = ChangeNote(NoteKind.MERGE, ("warn.pack", "cells"), ("warn.cell",), merge)
    old = [real("warn", plain_values=(Choice("0", "off"),)), real("cells")]
    plan = chained(first, second, old, [real("warn.cell")], {"warn": "0", "cells": "4"})
    line = line_of(plan, "warn")
    assert line.is_open, "off / 4 is no voltage"
    assert "off" in line.why
