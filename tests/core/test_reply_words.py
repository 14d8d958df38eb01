"""Replies to so few lines that there is nothing to compare them with."""

from __future__ import annotations

import pytest

from asflown.core.record import Key
from asflown.core.replies import ReplyKind, WrittenLine, read_replies
from asflown.core.reply_words import says_yes

LIFT = WrittenLine(1, "lift = 530", Key("lift"), "530")
TURN = WrittenLine(2, "turn = 4", Key("turn"), "4")


@pytest.mark.parametrize(
    "text", ["ok", "OK.", "taken", "done!", "lift is set to 530", "saved: lift = 530.0", "[ok]"]
)
def test_a_plain_yes_to_the_only_line_is_no_complaint(text: str) -> None:
    found = read_replies([LIFT], f"> lift = 530\n{text}\n> ")
    assert [(reply.kind, reply.by_words) for reply in found.replies] == [(ReplyKind.ACKNOWLEDGEMENT, True)]
    assert found.usual == found.believed == ((text, 1),)


@pytest.mark.parametrize(
    "text",
    [
        "locked",
        "no: lift = 530",
        "not ok",
        "set failed",
        "ok? lift is limited",
        "lift set to 500",
        "ok 12",
        "error, nothing was saved",
        "lift = 530",
        "is now",
        "??",
    ],
)
def test_anything_else_is_left_to_a_person(text: str) -> None:
    found = read_replies([LIFT], f"> lift = 530\n{text}\n> ")
    assert [reply.text for reply in found.complaints] == [text]
    assert found.believed == ()


def test_of_two_lines_one_taken_and_one_refused() -> None:
    found = read_replies([LIFT, TURN], "> lift = 530\nok\n> turn = 4\nout of range\n")
    assert [reply.text for reply in found.complaints] == ["out of range"]
    assert found.believed == (("ok", 1),)


def test_where_most_lines_got_one_reply_words_do_not_count() -> None:
    """A lone yes among refusals stands out; it is not smoothed over."""
    lines = [WrittenLine(n, f"{name} = 1", Key(name), "1") for n, name in enumerate("abc", 1)]
    found = read_replies(lines, "> a = 1\nlocked\n> b = 1\nlocked\n> c = 1\nok\n")
    assert [reply.text for reply in found.complaints] == ["ok"]
    assert found.believed == ()


def test_the_yes_of_a_lone_section_word() -> None:
    lines = [
        WrittenLine(1, "page 2"),
        *(WrittenLine(n, f"{k} = 1", Key(k), "1") for n, k in ((2, "a"), (3, "b"))),
    ]
    found = read_replies(lines, "> page 2\nok\n> a = 1\nok\n> b = 1\nok\n")
    assert found.complaints == ()


def test_the_value_as_a_number() -> None:
    assert says_yes("accepted 2.500", Key("lift"), "2.5")
    assert not says_yes("accepted 2.500", Key("lift"), "2.6")
    assert not says_yes("accepted 2.500")
