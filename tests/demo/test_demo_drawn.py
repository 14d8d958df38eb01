"""Drawn devices: deterministic, honest about their own truth, and varied."""

import struct
from collections import Counter
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asflown.core.carry.carry import Question, carry_over
from asflown.core.carry.dispositions import Left
from asflown.core.carry.order import writing_order
from asflown.core.catalog import Consequence
from asflown.core.record import Extent, Key, Moment, Record, Setting
from asflown.core.values import same_value
from asflown.demo.random_devices import RandomPair, random_board, random_pair

SEEDS = st.integers(0, 2**32 - 1)


def record_of(pair: RandomPair) -> Record:
    found = tuple(Setting(key, value) for key, value in pair.board.values().items())
    return Record(
        "d-1", "d", "board", Moment.AS_FOUND, pair.old.id, None, "2026-03-07T09:00:00Z", found, Extent.FULL
    )


@given(SEEDS)
@settings(max_examples=25, deadline=None)
def test_the_same_seed_gives_the_same_device(seed) -> None:
    one, two = random_pair(seed), random_pair(seed)
    assert one.board.listing("full") == two.board.listing("full")
    assert (one.old, one.new, one.truth) == (two.old, two.new, two.truth)


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_a_board_takes_its_own_listing_back(seed) -> None:
    board = random_board(seed)
    found, shown = dict(board.values()), board.listing("full").decode()
    board.erase()
    transcript = board.paste(shown)
    assert dict(board.values()) == found
    assert "is no setting" not in transcript


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_values_are_exact_in_32_bits_and_names_short(seed) -> None:
    pair = random_pair(seed)
    right = pair.truth.right(pair.board.values())
    for firmware, values in ((pair.old_firmware, pair.board.values()), (pair.new_firmware, right)):
        for item in firmware.parameters:
            assert len(item.name) <= 16
        for key, value in values.items():
            item = firmware.by_name[key.name]
            if item.is_float:
                assert Decimal(struct.unpack("<f", struct.pack("<f", float(value)))[0]) == Decimal(value)


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_the_right_values_can_be_written_in_the_order_of_needs(seed) -> None:
    pair = random_pair(seed)
    right = pair.truth.right(pair.board.values())
    catalog = pair.new.catalog
    assert catalog is not None
    ordered = writing_order([Left(key, value) for key, value in right.items()], catalog)
    pair.board.load_image(pair.new_firmware)
    lines, bank = [], None
    for item in ordered.items:
        if item.key.bank not in (None, bank):
            bank = item.key.bank
            lines.append(pair.terminal.bank_form.replace("B", bank))
        lines.append(pair.terminal.line(item.key, item.value or "", ""))
    transcript = pair.board.paste("\n".join(lines))
    held = pair.board.values()
    assert {key: held[key] for key in right} == dict(right), transcript


@given(SEEDS)
@settings(max_examples=80, deadline=None)
def test_what_is_left_without_asking_and_may_hurt_is_right(seed) -> None:
    """The truth of drawn pairs as judge of the carry-over: no risky value rests on a wrong inference."""
    pair = random_pair(seed)
    found = pair.board.values()
    plan = carry_over(Question(record_of(pair), pair.old, pair.new, notes=(pair.notes,)))
    right = pair.truth.right(found)
    catalog = pair.new.catalog
    assert catalog is not None
    for line in plan.lines:
        if line.is_open or not line.old or not line.consequence.is_risky:
            continue
        for item in line.new:
            if item.value is not None:
                assert item.key in right, line
                assert same_value(item.value, right[item.key], catalog.by_name[item.key.name]), line


def test_every_kind_of_change_and_form_comes_up() -> None:
    kinds: Counter[str] = Counter()
    forms, complaints = set(), Counter()
    for seed in range(120):
        pair = random_pair(seed)
        kinds.update(item.kind for item in pair.truth.became)
        forms.add(pair.terminal.form)
        banks = pair.old_firmware.banks
        complaints["banks"] += bool(banks)
        complaints["indexes"] += any(item.indexes for item in pair.old_firmware.parameters)
        complaints["asks"] += any(item.asks for item in pair.old_firmware.parameters)
        complaints["clips"] += any(item.clips for item in pair.old_firmware.parameters)
        complaints["words"] += any(item.plain for item in pair.old_firmware.parameters)
        complaints["partly noted"] += not pair.notes.complete
    assert set(kinds) == {"same", "rename", "convert", "split", "merge", "retire", "default", "meaning"}
    assert len(forms) >= 8
    assert all(count >= 20 for count in complaints.values()), complaints


def test_clipping_and_refusing_boards_differ() -> None:
    fates = Counter()
    for seed in range(40):
        board = random_board(seed)
        terminal = board.grammar
        for item in board.firmware.parameters:
            if item.banks or item.indexes or item.type == "word" or item.asks:
                continue
            before = board.values()[Key(item.name)]
            reply = board.type(terminal.line(Key(item.name), str(int(item.high) + 1), ""))  # type: ignore[attr-defined]
            after = board.values()[Key(item.name)]
            assert reply.startswith("no: ")
            if item.clips:
                assert Decimal(after) == item.high
            else:
                assert after == before
            fates[item.clips] += 1
    assert set(fates) == {True, False}


def test_bare_pairs_state_no_meaning() -> None:
    pair = random_pair(3, bare=True)
    for release in (pair.old, pair.new):
        assert release.catalog is not None
        assert all(item.consequence is Consequence.UNKNOWN for item in release.catalog.parameters)
        assert not any(item.unit or item.choices or item.description for item in release.catalog.parameters)


@pytest.mark.parametrize("size", [3, 121])
def test_sizes_out_of_range_are_refused(size) -> None:
    with pytest.raises(ValueError, match="4 to 120"):
        random_pair(1, size=size)
