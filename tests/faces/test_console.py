"""Sheets as text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.app.views.sheet import Sheet, Table, account_line, counted, listed, minutes
from asflown.core.plan import Account
from asflown.errors import Damaged
from asflown.faces.cli.console import ascii_only, sheet_text, shown

SHEET = Sheet(
    title="Carry-over",
    head=(("aircraft", "plover"), ("release", "marl-1.0 → marl-2.0")),
    sentence="Needs you: 1 decision about 2 settings, under a minute.",
    account="3 settings found · = 1 kept",
    tables=(Table(("what", "lines#"), (("? new", "2"), ("= kept", "11")), folded=("folded: 1 kept",)),),
    warnings=("one thing",),
    notes=("a note",),
    next_act=("do this", "do that"),
    foot=("record plover-001 0123456789ab",),
)


def test_a_sheet_has_its_parts_in_order():
    text = sheet_text(SHEET, columns=60)
    places = [
        text.index(part)
        for part in (
            "Carry-over",
            "aircraft  plover",
            "Needs you",
            "3 settings",
            "! one thing",
            "? new",
            "… folded",
            "a note",
            "next: do this",
            "  or: do that",
            "end of sheet",
        )
    ]
    assert places == sorted(places)
    assert "= kept     11" in text  # figures are flush right


@given(
    st.lists(st.tuples(st.text(max_size=80), st.text(max_size=200), st.text(max_size=40)), max_size=6),
    st.integers(40, 120),
)
def test_law_no_line_is_wider_than_the_sheet_and_no_control_character_gets_through(rows, columns):
    sheet = Sheet("t", (), "s", tables=(Table(("a", "b", "c"), tuple(rows)),))
    text = sheet_text(sheet, columns=columns)
    assert all(len(line) <= columns for line in text.split("\n"))
    assert all(c.isprintable() or c in "\n\xa0" for c in text)


@given(st.text())
def test_law_plain_is_ascii(text):
    assert ascii_only(text).isascii()


def test_terminal_control_is_shown_not_obeyed():
    assert shown("a\x1b[2Jb") == "a\\x1b[2Jb"


ACCOUNT = Account(found=412, kept=369, converted=28, gone=12, redo=2, to_decide=1, new=19)


def test_the_account_line_reads_as_agreed():
    line = account_line(ACCOUNT)
    assert line == (
        "412 settings found · = 369 kept · → 28 converted · × 12 gone · ! 2 redo · ? 1 to decide   + 19 new"
    )
    assert ascii_only(line) == (
        "412 settings found | = 369 kept | -> 28 converted | x 12 gone | ! 2 redo | ? 1 to decide   + 19 new"
    )


def test_a_sum_that_does_not_add_up_is_refused():
    from dataclasses import replace

    with pytest.raises(Damaged) as refused:
        account_line(replace(ACCOUNT, kept=368))
    assert "412 settings found, 411 accounted for" in str(refused.value)
    assert refused.value.exit_code == 6


@pytest.mark.parametrize(
    ("made", "text"),
    [
        (counted(1, "line"), "1 line"),
        (counted(2, "entry", "entries"), "2 entries"),
        (listed("abc", most=2), "a, b and 1 more"),
        (listed("ab", most=2), "a, b"),
        (minutes(59), "under a minute"),
        (minutes(61), "about 2 min"),
    ],
)
def test_small_words(made, text):
    assert made == text
