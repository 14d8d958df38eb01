"""A transcript laid beside the lines that were written."""

from __future__ import annotations

import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asflown.core.record import Key
from asflown.core.replies import ReplyKind, WrittenLine, read_replies


def listing(*lines: str) -> tuple[WrittenLine, ...]:
    """Lines of the form ``name = value``; anything else is no setting."""
    made = []
    for number, text in enumerate(lines, 1):
        name, sign, value = text.partition(" = ")
        made.append(WrittenLine(number, text, Key(name), value) if sign else WrittenLine(number, text))
    return tuple(made)


FIVE = listing("bank 1", "alpha = 1", "beta = 2.50", "bank 2", "alpha = 1", "gamma = 9", "done")


def answers(found: object) -> list[tuple[str, str, int | None]]:
    return [(r.text, r.kind.value, r.after.number if r.after else None) for r in found.replies]  # type: ignore[attr-defined]


def test_echo_with_prompts_and_one_complaint() -> None:
    text = (
        "hello board 7\n> bank 1\nin bank 1\n> alpha = 1\nstored\n> beta = 2.50\nno: limit is 2\n> bank 2\nin bank 2\n"
        "> alpha = 1\nstored\n> gamma = 9\nstored\n> done\nbye\n> \n"
    )
    found = read_replies(FIVE, text)
    assert found.echo
    assert found.not_found == ()
    assert not found.stopped
    assert [(r.text, r.after.number) for r in found.complaints if r.after] == [("no: limit is 2", 3)]
    assert found.acknowledged == 5
    assert answers(found)[0] == ("hello board 7", "around the listing", None)
    assert answers(found)[-1] == ("bye", "around the listing", 7)


def test_cut_half_way_names_the_last_line_and_what_is_still_to_write() -> None:
    text = "> bank 1\n> alpha = 1\nok\n> beta = 2.50\nok\n> bank 2\n> alp"
    found = read_replies(FIVE, text)
    assert found.stopped
    assert found.stopped_after is not None
    assert found.stopped_after.number == 4
    assert [line.number for line in found.still_to_write] == [5, 6]
    assert found.complaints == ()


def test_the_last_line_that_shows_is_sent_again() -> None:
    found = read_replies(FIVE, "bank 1\nalpha = 1\nok\nbeta = 2.50")
    assert [line.number for line in found.still_to_write] == [3, 5, 6]


def test_a_reply_that_quotes_the_line_is_no_echo() -> None:
    text = "> alpha = 1\nalpha = 1\n> beta = 2\nbeta = 2\n> gamma = 9\nrefused: gamma = 9\n"
    found = read_replies(listing("alpha = 1", "beta = 2", "gamma = 9"), text)
    assert [(r.text, r.after.text) for r in found.complaints if r.after] == [
        ("refused: gamma = 9", "gamma = 9")
    ]
    assert found.acknowledged == 2


def test_replies_that_quote_the_lines_without_any_echo() -> None:
    text = "ok alpha = 1\nok beta = 2\nbad gamma = 9\nok delta = 4\n"
    found = read_replies(listing("alpha = 1", "beta = 2", "gamma = 9", "delta = 4"), text)
    assert not found.stopped
    assert [r.text for r in found.complaints] == ["bad gamma = 9"]
    assert found.complaints[0].after == WrittenLine(3, "gamma = 9", Key("gamma"), "9")


def test_no_echo_but_one_reply_a_line() -> None:
    found = read_replies(listing("alpha = 1", "beta = 2", "gamma = 9", "delta = 4"), "ok\nok\nrange\nok\n")
    assert found.is_assumed
    assert [(r.text, r.after.text) for r in found.complaints if r.after] == [("range", "gamma = 9")]
    short = read_replies(listing("alpha = 1", "beta = 2", "gamma = 9", "delta = 4"), "ok\nok\n")
    assert short.stopped
    assert [line.text for line in short.still_to_write] == ["beta = 2", "gamma = 9", "delta = 4"]


def test_no_echo_and_silence_on_success_is_attributed_by_name() -> None:
    found = read_replies(listing("alpha = 1", "beta = 2", "gamma = 9"), "there is no 'beta' here\n")
    assert not found.is_attributed
    assert found.complaints[0].after == WrittenLine(2, "beta = 2", Key("beta"), "2")


def test_terminal_control_codes_backspaces_and_carriage_returns() -> None:
    text = "\x1b[2K\x1b[32m> \x1b[0malpha = 1\r\n\x1b]0;title\x07ok\r\n> betx\b = 2\b\b\b\b = 2\r\nok\r\n"
    found = read_replies(listing("alpha = 1", "beta = 2"), text.replace("betx\b", "betx\ba"))
    assert found.not_found == ()
    assert found.acknowledged == 2


def test_a_value_stored_otherwise_is_a_complaint_and_the_same_number_is_not() -> None:
    text = "> a = 1\na is now 1.000\n> b = 2\nb is now 2.000\n> c = 900\nc is now 500.000\n"
    found = read_replies(listing("a = 1", "b = 2", "c = 900"), text)
    assert [r.text for r in found.complaints] == ["c is now 500.000"]


def test_the_usual_reply_is_shown_because_it_may_be_a_refusal() -> None:
    found = read_replies(
        listing("a = 1", "b = 2", "c = 3"), "> a = 1\nlocked\n> b = 2\nlocked\n> c = 3\nlocked\n"
    )
    assert found.usual == (("locked", 3),)


def test_a_numbered_prompt() -> None:
    text = "[1] alpha = 1\nok\n[2] beta = 2\nok\n[3] gamma = 9\nwhat?\n[4] \n"
    found = read_replies(listing("alpha = 1", "beta = 2", "gamma = 9"), text)
    assert found.not_found == ()
    assert [r.text for r in found.complaints] == ["what?"]


def test_a_lost_line_does_not_shift_the_others() -> None:
    found = read_replies(
        listing("a = 1", "b = 2", "c = 3", "d = 4"), "# a = 1\nok\n# c = 3\nok\n# d = 4\nok\n"
    )
    assert [line.text for line in found.not_found] == ["b = 2"]
    assert not found.stopped
    assert [line.text for line in found.still_to_write] == ["b = 2"]


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=150, deadline=None)
def test_random_terminals_are_read_exactly(seed: int) -> None:
    """A made-up terminal prints echo, prompts, replies in its own words; attribution must be exact."""
    rng = random.Random(seed)
    names = rng.sample(
        [a + b for a in ("ro", "pi", "ya", "ga", "lim", "mo") for b in ("na", "ta", "lo", "mix", "ve")], 14
    )
    texts = []
    for name in names:
        if rng.random() < 0.2:
            texts.append(f"page {rng.randint(1, 3)}")
        texts.append(f"{name} = {rng.choice((rng.randint(-9, 999), round(rng.random() * 9, 2)))}")
    written = listing(*texts)
    prompt = rng.choice(("", "> ", "$ ", "[7] ", "ready:"))
    ack = rng.choice(((), ("ok",), ("taken {name}",), ("fine", "next")))
    words = ("no such word", "over the top of {name}", "limit 5 to 9", "ERR 12", "cannot: {line}")
    out, bad = ["welcome", ""], {}
    cut = rng.choice((None, rng.randint(3, len(written))))
    for line in written[:cut]:
        out.append(prompt + line.text)
        if line.key is None:
            continue
        if rng.random() < 0.15:
            word = rng.choice(words).format(name=line.key.name, line=line.text)
            bad[line.number] = word
            out.append(word)
        else:
            out += [text.format(name=line.key.name) for text in ack]
    colour = (lambda t: f"\x1b[1m{t}\x1b[0m") if rng.random() < 0.5 else (lambda t: t)
    found = read_replies(written, rng.choice(("\n", "\r\n")).join(map(colour, out)))
    shown = written[:cut]
    assert [line.number for line in shown] == sorted(found.found)
    later = any(line.key for line in written[len(shown) :])
    assert found.stopped == later
    if later:
        assert found.stopped_after == shown[-1]
    last = max(line.number for line in written if line.key)
    said = {
        r.after.number: r.text for r in found.replies if r.after and r.kind is not ReplyKind.ACKNOWLEDGEMENT
    }
    asked = sum(line.key is not None for line in shown)
    if len(bad) * 2 >= asked or asked - len(bad) < 2:
        return  # when most lines are complained about, the transcript alone cannot tell which reply is the good one
    if ack and last not in bad:
        assert said == bad
    else:
        assert bad.items() <= said.items()


@pytest.mark.parametrize("echo", [True, False])
def test_time_grows_with_the_length_of_the_listing(echo: bool) -> None:
    written = listing(*(f"name_{i} = {i}" for i in range(20_000)))
    text = "\n".join(f"> {line.text}\nok" if echo else "ok" for line in written)
    start = time.perf_counter()
    found = read_replies(written, text)
    assert len(found.found) == 20_000
    assert time.perf_counter() - start < 8  # about 1 s here; quadratic work would take minutes


@given(st.text(max_size=200), st.lists(st.text(min_size=1, max_size=12), max_size=8))
@settings(max_examples=200, deadline=None)
def test_any_text_is_read_without_a_fault(transcript: str, lines: list[str]) -> None:
    found = read_replies(listing(*lines), transcript)
    assert len(found.found) + len(found.not_found) <= len(found.written)
