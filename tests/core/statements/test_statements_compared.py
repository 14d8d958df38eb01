"""Comparing statements: laws, and settings stored in another unit, scale and choice number."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from asflown.core.catalog import Catalog, CatalogSource, Choice, Consequence, ParameterDef, ValueKind
from asflown.core.record import Key
from asflown.core.statements.statements import Outcome, compared, none_stated, statements
from asflown.core.statements.topics import TOPICS
from asflown.core.statements.words import change_sentence, reason, told_apart

SAFETY = Consequence.SAFETY
#: Units a time may be stored in: text, and how many of it make a second (SI brochure: 1 min = 60 s).
TIMES = {"s": Fraction(1), "0.1s": Fraction(10), "ms": Fraction(1000), "min": Fraction(1, 60)}
WORDS = ("land", "come home", "hold the place", "stop the motors")


def one(parameter: ParameterDef, text: str, release: str = "sand-1.0"):
    catalog = Catalog((parameter,), CatalogSource.STATED)
    return statements({Key(parameter.name): text}, catalog, release)


def change_of(before, after, role):
    return next(change for change in compared(before, after) if change.topic.role == role)


def delay(unit: str, text: str, **more):
    return one(ParameterDef("wait", kind=ValueKind.REAL, unit=unit, role="radio_loss.delay", **more), text)


def action(order: tuple[str, ...], word: str):
    choices = tuple(Choice(str(place), label) for place, label in enumerate(order))
    choice = ParameterDef("act", kind=ValueKind.CHOICE, role="radio_loss.action", choices=choices)
    return one(choice, str(order.index(word)))


times = st.sampled_from(sorted(TIMES))
tenths = st.integers(1, 5000)


@given(times, times, tenths, tenths)
def test_a_time_is_the_same_in_whatever_unit(unit, other, x, y):
    """x and y are tenths of a second, stored exactly."""

    def stored(tenth, unit):
        exact = Fraction(tenth, 10) * TIMES[unit]
        assume(exact.denominator in (1, 2, 4, 5, 8, 10, 20, 100))
        return delay(unit, str(Decimal(exact.numerator) / Decimal(exact.denominator)))

    change = change_of(stored(x, unit), stored(y, other), "radio_loss.delay")
    assert change.outcome is (Outcome.SAME if x == y else Outcome.CHANGED)
    if x != y:
        assert len(set(told_apart(change))) == 2


@given(st.permutations(WORDS), st.permutations(WORDS), st.sampled_from(WORDS), st.sampled_from(WORDS))
def test_a_choice_is_its_word_not_its_number(order, other, word, then):
    change = change_of(action(tuple(order), word), action(tuple(other), then), "radio_loss.action")
    assert (change.outcome is Outcome.SAME) == (word == then)


@st.composite
def sides(draw):
    """A side of up to three settings: a time or a word among numbers, a choice, a set of bits."""
    made = []
    if draw(st.booleans()):
        text = draw(st.sampled_from(["0", "1", "20", "soon"]))
        made.append(
            (
                ParameterDef(
                    "wait",
                    kind=ValueKind.REAL,
                    unit=draw(times),
                    role="radio_loss.delay",
                    plain_values=(Choice("0", "never"),),
                    consequence=draw(st.sampled_from(list(Consequence))),
                ),
                text,
            )
        )
    if draw(st.booleans()):
        bits = tuple(Choice(str(place), word) for place, word in enumerate(draw(st.permutations(WORDS))))
        check = ParameterDef("check", kind=ValueKind.BITS, role="arming.checks", bits=bits)
        made.append((check, str(draw(st.integers(0, 20)))))
    volt = ParameterDef("low", kind=ValueKind.REAL, unit="0.1V", role="pack.warning_voltage")
    cell = ParameterDef("each", kind=ValueKind.REAL, unit="V", role="pack.cell_warning_voltage")
    cells = ParameterDef("cells", kind=ValueKind.INTEGER, role="pack.cells")
    for parameter, texts in ((volt, ("140", "105")), (cell, ("3.5", "3.6")), (cells, ("3", "4"))):
        if draw(st.booleans()):
            made.append((parameter, draw(st.sampled_from(texts))))
    catalog = Catalog(tuple(parameter for parameter, _ in made), CatalogSource.STATED)
    return statements({Key(parameter.name): text for parameter, text in made}, catalog, "sand-1.0")


@given(sides())
def test_a_side_beside_itself_is_the_same(side):
    made = compared(side, side)
    assert {change.outcome for change in made} <= {Outcome.SAME, Outcome.NEITHER, Outcome.NOT_KNOWN}
    stated = {change.topic.role for change in made if change.outcome is Outcome.SAME}
    assert all(change.before.is_stated for change in made if change.topic.role in stated)


@given(sides(), sides())
def test_swapping_sides_swaps_what_is_said(first, second):
    there = {change.topic.role: change for change in compared(first, second)}
    back = {change.topic.role: change for change in compared(second, first)}
    assert there.keys() == back.keys()
    for role, change in there.items():
        assert (change.outcome, change.touches_safety) == (back[role].outcome, back[role].touches_safety)
        assert told_apart(change) == told_apart(back[role])[::-1]


@given(sides(), sides())
def test_what_is_said_on_a_side_is_told(first, second):
    """Nothing that a side says is dropped, but for a voltage told in its other form on the same sides."""
    made = compared(first, second)
    for side, end in ((first, "before"), (second, "after")):
        for statement in side:
            if statement.is_stated:
                forms = (statement.topic.role, statement.topic.for_role)
                told = [change for change in made if change.topic.role in forms]
                assert any(getattr(change, end).is_stated for change in told)


@given(sides(), sides())
def test_what_changes_and_touches_safety_stands_first(first, second):
    made = [
        (list(Outcome).index(change.outcome), not change.touches_safety) for change in compared(first, second)
    ]
    assert made == sorted(made)


def volts(unit, text, role, cells=None, **more):
    parameters = [ParameterDef("low", kind=ValueKind.REAL, unit=unit, role=role, **more)]
    settings = {Key("low"): text}
    if cells is not None:
        parameters.append(ParameterDef("cells", kind=ValueKind.INTEGER, role="pack.cells"))
        settings[Key("cells")] = cells
    return statements(settings, Catalog(tuple(parameters), CatalogSource.STATED), "sand-1.0")


def test_a_warning_of_the_pack_and_one_of_each_cell_are_compared():
    """14 V over 3 cells is 4.6667 V: 467 hundredths is as near as the new release stores it, 466 is not."""
    whole = volts("0.1V", "140", "pack.warning_voltage", "3", decimals=0)
    near = volts("0.01V", "467", "pack.cell_warning_voltage", decimals=0)
    off = volts("0.01V", "466", "pack.cell_warning_voltage", decimals=0)
    role = "pack.cell_warning_voltage"
    assert change_of(whole, near, role).outcome is Outcome.SAME
    change = change_of(whole, off, role)
    assert change.outcome is Outcome.CHANGED
    assert told_apart(change) == ("4.667 V (14 V over 3 cells)", "4.66 V")
    assert not [one for one in compared(whole, near) if one.topic.role == "pack.warning_voltage"]


def test_a_finer_release_does_not_hide_a_change():
    """20 s in whole seconds, 20.4 s in milliseconds: the finer step tells them apart either way round."""
    coarse, fine = delay("s", "20", decimals=0), delay("ms", "20400", decimals=0)
    assert change_of(coarse, fine, "radio_loss.delay").outcome is Outcome.CHANGED
    assert change_of(fine, coarse, "radio_loss.delay").outcome is Outcome.CHANGED


def test_the_difference_is_seen_in_the_words():
    change = change_of(delay("s", "1.00000"), delay("s", "1.00002"), "radio_loss.delay")
    assert told_apart(change) == ("1 s", "1.00002 s")
    assert change_sentence(change) == "radio lost, acts by itself after: before 1 s, after 1.00002 s"


def test_a_number_and_a_word_differ():
    never = (Choice("0", "never"),)
    change = change_of(
        delay("s", "0", plain_values=never), delay("s", "20", plain_values=never), "radio_loss.delay"
    )
    assert (change.outcome, told_apart(change)) == (Outcome.CHANGED, ("never", "20 s"))


def test_of_sets_it_is_said_what_is_gone_and_what_came():
    def checks(words, value):
        bits = tuple(Choice(str(place), word) for place, word in enumerate(words))
        return one(ParameterDef("check", kind=ValueKind.BITS, role="arming.checks", bits=bits), value)

    # pack, level of the first; Level, motors of the second: another number, another case
    change = change_of(
        checks(("pack", "radio", "level"), "5"), checks(("Level", "pack", "motors"), "5"), "arming.checks"
    )
    assert reason(change) == "gone: pack; new: motors"
    same = change_of(checks(("pack", "level"), "3"), checks(("x", "Level", "pack"), "6"), "arming.checks")
    assert same.outcome is Outcome.SAME


def test_what_one_side_does_not_have_is_said_with_the_reason():
    climb = ParameterDef("climb", kind=ValueKind.REAL, unit="m", role="radio_loss.climb", consequence=SAFETY)
    before = one(climb, "35")
    after = statements({}, Catalog((), CatalogSource.STATED), "sand-2.0")
    change = compared(before, after)[0]
    assert (change.outcome, change.touches_safety) == (Outcome.ONE_SIDE, True)
    assert change_sentence(change) == "radio lost, climbs first by: before 35 m, after not stated"
    assert reason(change) == "no setting of sand-2.0 says it (role radio_loss.climb)"
    assert change_of(before, none_stated("sand-2.0 has no catalog"), "radio_loss.climb").outcome is (
        Outcome.ONE_SIDE
    )


def test_a_setting_that_cannot_be_read_is_no_unchanged_one():
    change = change_of(delay("s", "soon"), delay("s", "soon"), "radio_loss.delay")
    assert (change.outcome, change.is_unchanged) == (Outcome.NOT_KNOWN, False)
    nothing = none_stated("nothing says which release")
    assert {one.outcome for one in compared(nothing, nothing)} == {Outcome.NEITHER}
    assert len(compared(nothing, nothing)) == len(TOPICS) - 2  # two voltages, each in one of its forms


@pytest.mark.parametrize(
    ("first", "second", "touches"),
    [
        (Consequence.COMFORT, Consequence.SAFETY, True),
        (Consequence.COMFORT, Consequence.HANDLING, False),
        (Consequence.UNKNOWN, Consequence.NONE, True),
    ],
)
def test_safety_is_what_either_catalog_calls_so(first, second, touches):
    change = change_of(
        delay("s", "1", consequence=first), delay("s", "2", consequence=second), "radio_loss.delay"
    )
    assert change.touches_safety is touches
