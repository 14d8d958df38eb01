"""The sheets of a text terminal: its words, and what writing over it came to."""

from __future__ import annotations

from typing import Any

from asflown.app.back import BackDone
from asflown.app.link.write import WrittenOver
from asflown.app.views.read_back_shown import do_not_fly, read_back_json, tables
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.app.views.wayback_shown import back_done_json
from asflown.core.link.words import TerminalWords
from asflown.core.refit import State

NOTHING_BUILT_IN = (
    "Nothing else is ever typed: these words, and the lines of a listing that was written out. A line that"
    " could start a motor is held back whatever a file says."
)


def words_sheet(words: tuple[TerminalWords, ...], *, said: str = "") -> Sheet:
    """The words that are kept."""
    rows = tuple(
        (
            one.firmware,
            one.listing,
            one.store or "by hand",
            one.restart or "by hand",
            one.prompt or "found out",
        )
        for one in words
    )
    return Sheet(
        title="Terminal words",
        head=(),
        sentence=said or f"The words of {counted(len(words), 'firmware')} are kept.",
        tables=(
            Table(
                ("firmware", "lists", "stores", "restarts", "prompt"),
                rows,
                empty="none: asflown terminal new FIRMWARE",
            ),
        ),
        notes=(NOTHING_BUILT_IN,),
        next_act=("read an aircraft: asflown found --terminal PORT",),
    )


def words_json(words: tuple[TerminalWords, ...]) -> dict[str, Any]:
    """The words that are kept, as JSON."""
    return {
        "terminals": [
            {
                "firmware": one.firmware,
                "listing": one.listing,
                "store": one.store,
                "restart": one.restart,
                "enter": one.enter,
                "prompt": one.prompt,
                "complaint": list(one.complaint),
                "never": list(one.never),
                "speed": one.speed,
            }
            for one in words
        ]
    }


def written_over_sheet(made: WrittenOver) -> Sheet:
    """What writing over a terminal came to."""
    refit, done = made.job.refit, made.done
    return Sheet(
        title="Went back over the terminal" if made.goal.is_back else "Written over the terminal",
        head=(
            ("aircraft", f"{made.job.aircraft.title} ({refit.aircraft})"),
            ("date", made.at),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("terminal", f"{made.words.firmware}, at {made.port}"),
        ),
        sentence=_sentence(made),
        warnings=tuple(do_not_fly(refit)) if refit.state is State.PARTLY_WRITTEN else (),
        tables=(
            _refused(made),
            *(() if done is None else tables(done.compared, made.goal.catalog, _of(made))),
        ),
        notes=()
        if made.words.store
        else ("The words that store are not pinned: nothing was stored by asflown.",),
        next_act=_next(made),
        foot=(f"transcript {short(made.transcript.sha256)}",),
    )


def _of(made: WrittenOver) -> str:
    return "found" if made.goal.is_back else "planned"


def _sentence(made: WrittenOver) -> str:
    lines = counted(made.lines, "line")
    if made.stopped_at is not None:
        what = "held back" if made.stopped_at.is_held_back else "refused"
        return f"{lines} typed; stopped at {made.stopped_at.key}, a safety setting: {what}. Nothing stored."
    if made.is_as_planned:
        says = "every as-found setting is there again" if made.goal.is_back else "as left = as planned"
        return f"{lines} typed in {counted(made.rounds, 'round')}; {says}, read twice."
    return f"{lines} typed in {counted(made.rounds, 'round')}; what was read back is not as {_of(made)}."


def _done_json(made: WrittenOver) -> dict[str, Any] | None:
    if made.done is None:
        return None
    return back_done_json(made.done) if isinstance(made.done, BackDone) else read_back_json(made.done, "")


def _refused(made: WrittenOver) -> Table:
    rows = tuple(
        (str(one.line), one.key or one.text, "held back" if one.is_held_back else "refused", one.reply)
        for one in made.refused
    )
    return Table(
        ("line#", "setting", "what", "answer"),
        rows,
        title="Lines that seem not to have been taken",
        empty="none",
    )


def _next(made: WrittenOver) -> tuple[str, ...]:
    aircraft, back = made.job.refit.aircraft, " --back" if made.goal.is_back else ""
    if made.is_as_planned:
        of = " of the old release" if made.goal.is_back else ""
        return (f"the bench cards{of}, propellers off: asflown cards {aircraft}",)
    return (
        f"mend what the answers say, and go on: asflown write {aircraft}{back} --terminal {made.port}",
        f"or go back: asflown back {aircraft}",
    )


def written_over_json(made: WrittenOver) -> dict[str, Any]:
    """The same as JSON."""
    refit = made.job.refit
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "port": made.port,
        "as_planned": made.is_as_planned,
        "lines": made.lines,
        "rounds": made.rounds,
        "stopped_at": made.stopped_at.key if made.stopped_at else None,
        "refused": [
            {
                "line": one.line,
                "setting": one.key,
                "text": one.text,
                "answer": one.reply,
                "held_back": one.is_held_back,
            }
            for one in made.refused
        ],
        "transcript": made.transcript.sha256,
        "read_back": _done_json(made),
        "next": list(_next(made)),
    }
