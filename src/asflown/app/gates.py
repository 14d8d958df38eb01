"""The states of a refit, which may follow which, and the gates on the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from asflown.core.load.journal import What
from asflown.core.refit import Gate, GateName, Refit, State
from asflown.errors import NeedsPerson, UsageError

#: Which states may follow which. Nothing leaves a closed refit but going back after a sign-off.
NEXT: Mapping[State, frozenset[State]] = {
    # the new image may be on the board before anything is written: its factory listing comes from there
    State.PLANNING: frozenset({State.PLANNING, State.DECIDED, State.NOT_NOW, State.WENT_BACK}),
    State.DECIDED: frozenset(
        {State.PLANNING, State.DECIDED, State.WRITTEN_OUT, State.NOT_NOW, State.WENT_BACK}
    ),
    State.WRITTEN_OUT: frozenset(
        {
            State.PLANNING,
            State.DECIDED,
            State.WRITTEN_OUT,
            State.PARTLY_WRITTEN,
            State.READ_BACK,
            State.WENT_BACK,
            State.NOT_NOW,
        }
    ),
    State.PARTLY_WRITTEN: frozenset(
        {State.WRITTEN_OUT, State.PARTLY_WRITTEN, State.READ_BACK, State.WENT_BACK}
    ),
    State.READ_BACK: frozenset(
        {
            State.PLANNING,
            State.DECIDED,
            State.WRITTEN_OUT,
            State.PARTLY_WRITTEN,
            State.READ_BACK,
            State.SIGNED,
            State.WENT_BACK,
        }
    ),
    State.SIGNED: frozenset({State.WENT_BACK}),
    State.WENT_BACK: frozenset(),
    State.NOT_NOW: frozenset(),
}

#: What a person does next in each state.
NEXT_ACT: Mapping[State, str] = {
    State.PLANNING: "settle what is open: asflown decide {aircraft}",
    State.DECIDED: "write the listing out: asflown write-out {aircraft} --out FOLDER",
    State.WRITTEN_OUT: "load it, save a new listing, and read it back: asflown readback LISTING",
    State.PARTLY_WRITTEN: "do not fly; go on writing, or erase and start again: asflown replies FILE",
    State.READ_BACK: "do the bench cards, then sign: asflown sign {aircraft}",
    State.SIGNED: "nothing is open",
    State.WENT_BACK: "nothing is open",
    State.NOT_NOW: "nothing is open",
}

_BACK_ON = "do not fly; put the rest of it back: asflown back {aircraft} --load"
#: What a person does next where a board's flash is half written.
HALF_LOADED: Mapping[What, str] = {
    What.IMAGE: "do not fly; go on writing the image: asflown load {aircraft}; or put the old flash back:"
    " asflown back {aircraft} --load",
    What.OLD_FLASH: _BACK_ON,
    What.OLD_IMAGE: _BACK_ON,
}
#: What a person does next when the old flash is on the board again.
PUT_BACK = "save a listing from the board, and prove it: asflown back {aircraft} --readback LISTING"

ANSWERS = ("passed", "failed", "impossible", "skipped")

#: How a gate without an answer reads; it never counts as agreement.
NOT_STATED = "not stated"


def may_become(state: State, wanted: State) -> bool:
    """Whether one state may follow another."""
    return wanted in NEXT[state]


def moved(refit: Refit, wanted: State) -> Refit:
    """The refit in another state.

    Raises
    ------
    NeedsPerson
        When that state may not follow; says what can be done instead.
    """
    if refit.is_half_loaded:
        raise NeedsPerson(
            f"the flash of {refit.aircraft}'s board is half written: do not fly; that comes before all else",
            next_step=next_act(refit),
        )
    if not may_become(refit.state, wanted):
        ways = sorted(state.value for state in NEXT[refit.state])
        says = f"from there it can become: {'; '.join(ways)}" if ways else "it has ended"
        raise NeedsPerson(
            f"refit {refit.id} is {refit.state.value!r} and cannot become {wanted.value!r}; {says}",
            next_step=next_act(refit),
        )
    return replace(refit, state=wanted)


def next_act(refit: Refit) -> str:
    """What a person does next, as a command."""
    if refit.on_board is not None and refit.state is State.PARTLY_WRITTEN:
        if refit.is_half_loaded:
            return HALF_LOADED[refit.on_board.what].format(aircraft=refit.aircraft)
        if refit.on_board.what is not What.IMAGE:
            return PUT_BACK.format(aircraft=refit.aircraft)
    return NEXT_ACT[refit.state].format(aircraft=refit.aircraft)


def answered(refit: Refit, name: GateName, gate: Gate) -> Refit:
    """The refit with an answer to one gate; a later answer stands, the logbook keeps both.

    Raises
    ------
    UsageError
        When the answer is none of :data:`ANSWERS`, or has no statement.
    """
    if gate.answer not in ANSWERS:
        raise UsageError(
            f"{gate.answer!r} is no answer to a gate", next_step=f"use one of: {', '.join(ANSWERS)}"
        )
    if not gate.statement.strip():
        raise UsageError(f"gate {name.value!r}: say the fact or the reason", next_step="add --why REASON")
    return replace(refit, gates={**refit.gates, name.value: gate})


def standing(refit: Refit) -> tuple[tuple[GateName, Gate | None], ...]:
    """Every gate in the order of the job, with its answer; ``None`` is *not stated*."""
    return tuple((name, refit.gates.get(name.value)) for name in GateName)


def not_stated(refit: Refit) -> tuple[GateName, ...]:
    """Gates nobody said anything about."""
    return tuple(name for name, gate in standing(refit) if gate is None)


def is_passed(refit: Refit, name: GateName) -> bool:
    """Whether a gate was passed; *not stated*, *skipped* and *impossible* are no pass."""
    gate = refit.gates.get(name.value)
    return gate is not None and gate.answer == "passed"


def require(refit: Refit, name: GateName, *, before: str, next_step: str) -> None:
    """Refuse to go on before a gate was passed.

    Raises
    ------
    NeedsPerson
        Naming the gate, its answer and what to do.
    """
    if is_passed(refit, name):
        return
    gate = refit.gates.get(name.value)
    says = NOT_STATED if gate is None else f"{gate.answer}: {gate.statement}"
    raise NeedsPerson(f"{before} waits for the gate {name.value!r} ({says})", next_step=next_step)
