"""The whole way on drawn devices: read, plan, decide, write, paste, read back; and the way back.

The board shares no code with the reader or the writer, and the truth of the drawn pair is the judge.
"""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from asflown.core.carry.carry import Question, carry_over
from asflown.core.carry.dispositions import Line
from asflown.core.carry.order import selection, writing_order
from asflown.core.carry.settle import Decision, settle
from asflown.core.plan import Plan
from asflown.core.record import Extent, Key, Moment, Record, Setting
from asflown.core.values import same_value
from asflown.demo.random_devices import RandomPair, Truth, random_pair
from asflown.errors import InputError
from asflown.formats import listing

SEEDS = st.integers(0, 2**32 - 1)


def read_record(pair: RandomPair) -> Record:
    shown = listing.read(pair.board.listing("full"))
    return Record(
        "d-1",
        "d",
        "board",
        Moment.AS_FOUND,
        pair.old.id,
        None,
        "2026-03-07T09:00:00Z",
        shown.settings,
        Extent.FULL,
    )


@given(SEEDS)
@settings(max_examples=80, deadline=None)
def test_a_drawn_listing_is_read_exactly(seed: int) -> None:
    board = random_pair(seed).board
    for extent in ("full", "changes"):
        shown = listing.read(board.listing(extent))
        factory = board.firmware.factory
        wanted = {k: v for k, v in board.values().items() if extent == "full" or v != factory[k]}
        if extent == "changes" and len(wanted) < 8:
            continue  # too few lines to learn a form from is another test's matter
        assert shown.lossless
        assert {s.key: s.value for s in shown.settings} == wanted


def decision_for(line: Line, right: dict, truth: Truth) -> Decision:
    """The right value where the truth has one, else the first option that states all its values."""
    wanted = [right.get(item.key) for item in line.new]
    chosen, values = None, {}
    if len(line.new) == 1 and wanted[0] is not None and any(o.id == "value" for o in line.options):
        chosen, values = "value", {line.id: wanted[0]}
    else:
        stated = [
            o
            for o in line.options
            if o.id not in ("value", "name") and all(n.value is not None for n in o.new)
        ]
        there = {name for item in line.old for name in truth.successors[item.key.name]}
        fits = [
            o
            for o in stated
            if o.new and all(n.key.name in there and right.get(n.key) == n.value for n in o.new)
        ]
        safe = [o for o in stated if o.id not in ("rename", "second")]
        chosen = (fits or safe or stated)[0].id
    return Decision(
        line.group, chosen, {line.id: line.fingerprint}, "drawn", "a person", "2026-03-07", values
    )


def decided(plan: Plan, right: dict, truth: Truth) -> Plan:
    made: list[Decision] = []
    for _ in range(20):
        settled = settle(plan, made)
        still = [line for line in settled.lines if line.is_open]
        if not still:
            return settled
        made += [decision_for(line, right, truth) for line in still]
    raise AssertionError(f"still open: {[(line.id, line.why) for line in still]}")


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_what_was_written_reads_back_as_planned_and_the_way_back_restores(seed: int) -> None:
    pair = random_pair(seed)
    assume(not (pair.terminal.is_table and pair.terminal.index_form == "(I)"))  # see the test below
    board, catalog = pair.board, pair.new.catalog
    assert catalog is not None
    found, before = dict(board.values()), listing.read(board.listing("full"))
    clean = listing.write(before, before.settings).decode()
    plan = carry_over(Question(read_record(pair), pair.old, pair.new, notes=(pair.notes,)))
    settled = decided(plan, dict(pair.truth.right(found)), pair.truth)
    planned = {n.key: n.value for line in settled.lines for n in line.new}
    chosen = selection(settled, catalog, everything=False)
    units = {setting.unit for setting in before.settings}  # a unit the listing never showed is not written
    rows = [
        Setting(
            item.key,
            item.value or "",
            unit=unit if (unit := catalog.by_name[item.key.name].unit) in units else None,
        )
        for item in writing_order(chosen.write, catalog).items
    ]
    try:
        text = listing.write(before, rows).decode()
    except InputError:
        # a form the old listing never showed (an index, an empty value) cannot be written: said, not guessed
        assert any(row.key.index for row in rows)
        assert not any(setting.key.index for setting in before.settings)
        return
    board.load_image(pair.new_firmware)
    transcript = board.paste(text)
    board.save()
    board.restart()
    left = {s.key: s.value for s in listing.read(board.listing("full")).settings}
    assert set(left) == set(planned)
    for key, value in planned.items():
        waits = [
            name for _, name in pair.new_firmware.by_name[key.name].asks if not float(planned[Key(name)] or 0)
        ]
        if waits and value and float(value):
            # what it waits for was gone without a note and is at its factory 0: the board says so
            assert f"{key.name} waits for {waits[0]}" in transcript
        elif value is not None:
            assert same_value(left[key], value, catalog.by_name[key.name]), (key, value, transcript)

    board.load_image(pair.old_firmware)
    board.paste(clean)
    assert dict(board.values()) == found


@pytest.mark.xfail(
    reason="a table's writer gives a new name the index form [1] whatever the listing's own is", strict=True
)
def test_a_new_name_in_a_table_is_written_with_the_listings_own_index_form() -> None:
    shown = listing.read(
        b"| name | value | unit |\n| perch(1) | 4 | s |\n| perch(2) | 5 | s |\n| reed | 7 | m |\n| dune | 8 | m |\n"
    )
    assert Key("perch", None, "2") in {setting.key for setting in shown.settings}
    assert b"creek(1)" in listing.write(shown, [Setting(Key("creek", None, "1"), "6", unit="s")])
