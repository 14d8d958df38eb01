"""Reading and writing over a text terminal: the guard, refusals, lost lines, reboots, a cut line; and many of all.

``ASFLOWN_TERMINALS`` and ``ASFLOWN_TERMINALS_ON_PTY`` say how many random runs are tried (default 150 and 15; 1,000
of each were counted); ``-s`` prints what they came to.
"""

from __future__ import annotations

import contextlib
import os
import random
import time
from collections import Counter
from dataclasses import replace

import pytest
from small_world import OLD
from terminal_world import ASK, WORDS, Desk, ThrushBoard, as_found, ready

from asflown.adapters.link.text_terminal import TextTerminal
from asflown.adapters.load.serial_line import SerialLine
from asflown.app import kept, state
from asflown.app.link.read import found_at
from asflown.app.link.words import add_words, words_for
from asflown.app.link.write import write_at, write_back_at
from asflown.app.load.prepare import Ask
from asflown.app.take_record import Request
from asflown.core.link.answers import Answers, reply_to
from asflown.core.link.words import Guard, TerminalWords
from asflown.core.record import Key
from asflown.core.refit import State
from asflown.demo.board_file import PtyBoard
from asflown.demo.terminal import SimulatedTerminal, Trouble
from asflown.errors import DeviceError, InputError, NeedsPerson

COUNT = int(os.environ.get("ASFLOWN_TERMINALS", "150"))
ON_PTY = int(os.environ.get("ASFLOWN_TERMINALS_ON_PTY", "15"))
SEED = 20261127


def quiet(done: int, total: int) -> None:
    return None


def wanted(made) -> dict[str, str]:
    """What the board should hold: the plan's values over factory."""
    plan = state.written_plan(made.store, state.open_job(made.work, "wren").refit)
    return {item.key.name: item.value for line in plan.lines for item in line.new if item.value is not None}


def holds(board, values: dict[str, str]) -> bool:
    return all(
        float(board.stored[name]) == float(value) for name, value in values.items() if name in board.stored
    )


def test_written_stored_restarted_and_proven():
    made = ready()
    desk = Desk(made.board)
    done = write_at(made.work, "wren", ASK, desk, "tty", quiet)
    assert done.is_as_planned
    assert (done.rounds, done.refused, done.stopped_at) == (1, (), None)
    assert holds(made.board, wanted(made))
    assert done.job.refit.state is State.READ_BACK
    assert [line for line in desk.typed if line in ("keep", "again")] == ["keep", "again"]
    kinds = [(entry.kind, entry.body.get("what")) for entry in made.store.book("wren")[-5:]]
    assert ("link", "writing begun") in kinds
    assert ("link", "written and read back") in kinds


def test_nothing_is_typed_before_a_person_says_so():
    made = ready()
    desk = Desk(made.board)
    with pytest.raises(NeedsPerson, match="propellers off, pack unplugged"):
        write_at(made.work, "wren", Ask(), desk, "tty", quiet)
    assert desk.typed == []


def test_without_pinned_words_nothing_is_typed():
    made = ready()
    del made.store.docs["terminal", "thrush"]
    with pytest.raises(NeedsPerson, match="which words thrush's terminal takes is not kept"):
        write_at(made.work, "wren", ASK, Desk(made.board), "tty", quiet)


def test_a_refused_safety_setting_stops_before_anything_is_stored():
    made = ready()
    desk = Desk(made.board, trouble=None)
    take = made.board._take
    made.board._take = lambda line: "not so" if "low_pack" in line else take(line)
    before = dict(made.board.stored)
    done = write_at(made.work, "wren", ASK, desk, "tty", quiet)
    assert done.stopped_at is not None
    assert done.stopped_at.key == "low_pack"
    assert "keep" not in desk.typed
    assert made.board.stored == before
    assert done.job.refit.state is State.PARTLY_WRITTEN


def test_a_refused_comfort_setting_is_listed_and_the_others_are_written():
    made = ready()
    take = made.board._take
    made.board._take = lambda line: "not so" if "horn_pitch" in line else take(line)
    done = write_at(made.work, "wren", ASK, Desk(made.board), "tty", quiet)
    assert done.stopped_at is None
    assert {one.key for one in done.refused} == {"horn_pitch"}
    assert not done.is_as_planned
    wrong = [row.key.name for row in done.done.compared.still_to_write] if done.done else []
    assert wrong == ["horn_pitch"]
    assert done.job.refit.state is State.PARTLY_WRITTEN


def test_a_cut_line_is_partly_written_and_the_next_run_writes_the_rest():
    made = ready()
    desk = Desk(made.board, cut_after=60)
    with pytest.raises(DeviceError, match="the cable is out"):
        write_at(made.work, "wren", ASK, desk, "tty", quiet)
    assert state.open_job(made.work, "wren").refit.state is State.PARTLY_WRITTEN
    again = Desk(made.board)
    done = write_at(made.work, "wren", ASK, again, "tty", quiet)
    assert done.is_as_planned
    assert holds(made.board, wanted(made))
    assert again.typed[:2] == ["again", "tell"], "it restarts and reads before it writes"


def test_a_record_is_read_twice_and_nothing_is_written():
    made = ready()
    board = as_found()
    desk = Desk(board)
    taken = found_at(made.work, Request(b"", "", "wren"), desk, "tty")
    assert {key.name: value for key, value in taken.record.values.items()} == board.live
    assert taken.second is not None
    assert desk.typed == ["tell", "tell"]


def test_two_readings_that_differ_are_not_kept():
    made = ready()
    board = as_found()
    desk = Desk(board)
    listing = desk.terminal.board.type

    def drifting(line):
        shown = listing(line)
        if line == "tell":
            board.live["lamp_level"] = "7"
        return shown

    desk.terminal.board.type = drifting
    before = len(kept.record_entries(made.store, "wren"))
    with pytest.raises(NeedsPerson, match="second reading"):
        found_at(made.work, Request(b"", "", "wren"), desk, "tty")
    assert len(kept.record_entries(made.store, "wren")) == before


def test_going_back_over_the_terminal_from_every_state():
    for before in ("written out", "read back", "cut"):
        made = ready()
        if before != "written out":
            desk = Desk(made.board, cut_after=60 if before == "cut" else None)
            with contextlib.suppress(DeviceError):
                write_at(made.work, "wren", ASK, desk, "tty", quiet)
        made.board.load_image(OLD)  # as the go-back sheet asks
        done = write_back_at(made.work, "wren", ASK, Desk(made.board), "tty", quiet)
        assert done.is_as_planned, before
        assert made.board.stored == as_found().stored
        assert state.last_job(made.work, "wren").refit.state is State.WENT_BACK


THRUSH = TerminalWords("thrush", "tell", "keep", "again")


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("arm", "could start a motor"),
        ("ARM now", "could start a motor"),
        ("spin 1 1200", "could start a motor"),
        ("throttle 0.2", "could start a motor"),
        ("let spin_slow be 9", "neither a pinned word nor a line"),
        ("tell\x03", "neither a pinned word"),
        ("anything", "neither a pinned word"),
    ],
)
def test_what_the_guard_never_lets_through(line, why):
    assert why in (Guard(THRUSH, ["let tilt_gain be 4"]).refuses(line) or "")


def test_the_guard_lets_through_what_was_agreed_to_and_the_persons_marks_hold_back_the_rest():
    guard = Guard(replace(THRUSH, never=(r"tilt",)), ["let tilt_gain be 4", "let lamp_level be 2"])
    assert guard.refuses("let lamp_level be 2") is None
    assert guard.refuses("tell") is None
    assert guard.refuses("") is None
    assert "your file marks it: tilt" in (guard.refuses("let tilt_gain be 4") or "")


def test_words_that_could_start_a_motor_cannot_be_pinned():
    made = ready()
    with pytest.raises(InputError, match="never sent"):
        add_words(made.work, b'firmware = "x"\nlisting = "arm"\n', "w.toml")
    for wrong, says in (
        (b'firmware = "x"\n', "listing"),
        (b'firmware = "x"\nlisting = "l"\nnever = ["("]\n', "is no pattern"),
        (b'firmware = "x"\nlisting = "l"\ncolour = 1\n', "colour"),
        (b'firmware = "x"\nlisting = "a\\nb"\n', "listing"),
    ):
        with pytest.raises(InputError) as told:
            add_words(made.work, wrong, "w.toml")
        assert says in str(told.value)
    assert words_for(made.work, "thrush-2.0").listing == "tell"


def test_a_held_back_line_is_reported():
    made = ready()
    add_words(made.work, WORDS + b'never = ["horn_pitch"]\n', "words.toml")
    desk = Desk(made.board)
    done = write_at(made.work, "wren", ASK, desk, "tty", quiet)
    assert [(one.key, one.is_held_back) for one in done.refused][:1] == [("horn_pitch", True)]
    assert not any("horn_pitch" in line for line in desk.typed)


@pytest.mark.parametrize(
    ("shown", "line", "prompt", "reply"),
    [
        ("let a be 1\r\nso be it\r\nthrush> ", "let a be 1", "thrush> ", "so be it"),
        ("\r\nso be it\r\nthrush> ", "let a be 1", "thrush> ", "so be it"),
        ("thrush> let a be 1\r\nthrush> ", "let a be 1", "thrush> ", ""),
        ("let a be 1\n", "let a be 1", None, ""),
        ("! range\r\n", "let a be 1", None, "! range"),
    ],
)
def test_the_answer_without_echo_and_prompt(shown, line, prompt, reply):
    assert reply_to(shown, line, prompt) == reply


def test_the_usual_answer_is_learned_and_the_odd_one_found_afterwards():
    answers, key = Answers(THRUSH), Key("a")
    assert answers.is_refusal("pardon", key, "1") is None
    assert [answers.is_refusal("so be it", key, "1") for _ in range(3)] == [None, None, False]
    assert answers.judged("pardon", key, "1") is True
    assert answers.is_refusal("OK", key, "1") is False


def random_desk(made, numbers: random.Random, seed: int) -> Desk:
    trouble = Trouble()
    for _ in range(numbers.choice((0, 0, 1, 2, 3))):
        trouble.lost.add(numbers.randint(1, 25))
    if numbers.random() < 0.3:
        trouble.reboots.add(numbers.randint(2, 20))
    if numbers.random() < 0.25:
        names = ("horn_pitch", "tilt_gain", "low_pack", "lost_after_ms", "spin_slow")
        refused, take = numbers.choice(names), made.board._take
        made.board._take = lambda line: "not so" if line.split()[1:2] == [refused] else take(line)
    cut = numbers.randint(5, 500) if numbers.random() < 0.2 else None
    return Desk(made.board, numbers.random() < 0.5, trouble, cut, seed)


def one_run(made, desk, again) -> str:
    """Write, and once more where the line was cut; what is true then, and what was said of it."""
    plan, outcome = wanted(made), ""
    try:
        done = write_at(made.work, "wren", ASK, desk, "tty", quiet)
    except DeviceError:
        outcome = "told, then "
        assert state.open_job(made.work, "wren").refit.state is State.PARTLY_WRITTEN or not desk.typed
        desk = again()
        done = write_at(made.work, "wren", ASK, desk, "tty", quiet)
    assert all(line in ("tell", "keep", "again") or line.startswith("let ") for line in desk.typed)
    if done.is_as_planned:
        assert holds(made.board, plan)
        return f"{outcome}as planned"
    if done.stopped_at is not None:
        assert done.refused
        return f"{outcome}stopped"
    listed = {row.key.name for row in done.done.compared.still_to_write}
    board = made.board
    assert listed == {n for n, v in plan.items() if n in board.stored and float(board.live[n]) != float(v)}
    return f"{outcome}listed"


def test_random_terminals():
    """Echo on or off, lost lines, reboots, refusals, cut lines: as left = as planned, or exactly what is not."""
    numbers = random.Random(SEED)
    outcomes: Counter[str] = Counter()
    for seed in range(COUNT):
        made = ready()
        desk = random_desk(made, numbers, seed)
        outcomes[one_run(made, desk, lambda d=desk, m=made: Desk(m.board, d.echo))] += 1
    print(f"{COUNT} random terminals, seed {SEED}: {dict(outcomes)}")
    assert outcomes["as planned"] > COUNT // 2


class PtyDesk:
    """The same terminal behind a real pseudo-terminal, through pyserial."""

    def __init__(self, board, *, echo, trouble):
        self.terminal = SimulatedTerminal(ThrushBoard(board), echo=echo, trouble=trouble)
        self.pty = PtyBoard(self.terminal)

    @property
    def typed(self):
        return self.terminal.typed

    def open(self, name, words, guard):
        quick = replace(words, quiet=0.1)
        device = self.pty.device
        return TextTerminal(
            lambda: SerialLine(device, even_parity=False), quick, guard, time.monotonic, time.sleep
        )


@pytest.mark.slow
def test_random_terminals_on_a_pseudo_terminal():
    numbers = random.Random(SEED + 1)
    outcomes: Counter[str] = Counter()
    for seed in range(ON_PTY):
        made = ready()
        drawn = random_desk(made, numbers, seed)
        desks = [PtyDesk(made.board, echo=drawn.echo, trouble=drawn.trouble)]

        def again(desks=desks, made=made, drawn=drawn):
            desks.append(PtyDesk(made.board, echo=drawn.echo, trouble=Trouble()))
            return desks[-1]

        outcomes[one_run(made, desks[0], again)] += 1
        for desk in desks:
            desk.pty.close()
    print(f"{ON_PTY} random terminals on a pseudo-terminal, seed {SEED + 1}: {dict(outcomes)}")
    assert outcomes["as planned"] > ON_PTY // 2
