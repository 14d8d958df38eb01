"""Cards and gates: what a person checked and said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from asflown.app import gates, kept, plans, state
from asflown.app.bench.facts import facts_of
from asflown.app.calibrate.kept import calibrations
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.core.bench.judged import judged
from asflown.core.bench.refit_cards import cards_for
from asflown.core.calibrate.kept import Calibration
from asflown.core.cards import RESULTS, Card, CardState, Phase, card_states, is_bench_checked, proven
from asflown.core.plan import Plan
from asflown.core.refit import CardResult, GateName, Refit
from asflown.errors import NeedsPerson, UsageError

#: Gates the tool answers itself, and what answers them.
OWN_GATES = {
    GateName.WAY_BACK: "asflown write-out answers it",
    GateName.READ_BACK: "asflown readback LISTING answers it",
    GateName.BENCH_CARDS: "asflown cards mark CARD pass answers it, card by card",
}


@dataclass(frozen=True)
class Cards:
    """The cards of an aircraft with what was noted on them.

    Attributes
    ----------
    job
        The refit they belong to; ``None``: the standing cards alone.
    proven
        What a sign-off may claim now.
    calibrated
        Calibrations kept since the refit began.
    """

    aircraft: str
    job: Job | None
    states: tuple[CardState, ...]
    proven: str
    at: str
    calibrated: tuple[Calibration, ...] = ()

    def find(self, said: str) -> CardState:
        """The card of that word or number.

        Raises
        ------
        UsageError
            When there is none.
        """
        return find_card(self.states, said)


def cards_of(work: Workplace, aircraft: str) -> Cards:
    """The cards of the open refit, or of the one that ended last; the standing ones where there is none."""
    if not kept.refits(work.store, aircraft):
        states = card_states(cards_for(), {})
        return Cards(aircraft, None, states, proven(states, {}), work.clock.now())
    return _of(work, state.last_job(work, aircraft))


def mark(work: Workplace, aircraft: str, said: str, result: str, note: str = "") -> Cards:
    """Note a result on a card; the logbook keeps every note, the last one stands.

    Raises
    ------
    NeedsPerson
        When the card is closed by one that failed, or waits for one.
    UsageError
        When there is no such card or result, or a failed card has no note.
    """
    if result not in RESULTS:
        raise UsageError(f"{result!r} is no result of a card", next_step=f"use one of: {', '.join(RESULTS)}")
    job = markable(work, aircraft)
    found = find_card(_states(work, job), said)
    card = found.card
    _refuse_closed(found, result, aircraft)
    if result != "pass" and not note.strip():
        raise UsageError(f"card {card.id!r}: say what was seen, or why not", next_step="add --note TEXT")
    if result == "pass" and not note.strip():
        _refuse_contradicted(found)
    noted = CardResult(result, note.strip(), work.clock.now(), work.who)
    refit = replace(job.refit, cards={**job.refit.cards, card.id: noted})
    refit, moved = _with_gates(work, job, refit, card, noted)
    with work.store.transaction() as tx:
        job = state.put(tx, job, refit)
        body = {
            "refit": refit.id,
            "card": card.id,
            "number": card.number,
            "result": result,
            "note": noted.note,
        }
        tx.log(refit.aircraft, "card", body)
        for name in moved:
            state.log_gate(tx, refit, name)
    return _of(work, job)


def answer_gate(work: Workplace, aircraft: str, said: str, answer: str, why: str) -> Job:
    """Answer one gate: passed, failed, impossible or skipped, with the fact or the reason.

    Raises
    ------
    UsageError
        When there is no such gate or answer, no reason is given, or the tool answers that gate itself.
    """
    name = find_gate(said)
    if name in OWN_GATES:
        raise UsageError(f"the gate {name.value!r} is not answered by hand", next_step=OWN_GATES[name])
    job = markable(work, aircraft)
    refit = state.answer(work, job.refit, name, answer, why)
    with work.store.transaction() as tx:
        job = state.put(tx, job, refit)
        state.log_gate(tx, refit, name)
    return job


def gates_by_hand(refit: Refit) -> tuple[tuple[str, bool], ...]:
    """The gates that a person answers, and whether each is answered."""
    return tuple(
        (name.value, gate is not None) for name, gate in gates.standing(refit) if name not in OWN_GATES
    )


def find_gate(said: str) -> GateName:
    """The gate of that name, with hyphens or blanks, or by its beginning.

    Raises
    ------
    UsageError
        When there is none, or several begin so.
    """
    wanted = said.strip().lower().replace("-", " ").replace("_", " ")
    names = {name.value.replace("-", " "): name for name in GateName}
    near = [name for text, name in names.items() if text == wanted] or [
        name for text, name in names.items() if text.startswith(wanted) and wanted
    ]
    if len(near) == 1:
        return near[0]
    words = ", ".join(name.value.replace(" ", "-") for name in GateName)
    raise UsageError(f"{said!r} names {'several gates' if near else 'no gate'}", next_step=f"gates: {words}")


def find_card(states: Sequence[CardState], said: str) -> CardState:
    """The card of that word or number.

    Raises
    ------
    UsageError
        When there is none.
    """
    for found in states:
        if said in (found.card.id, str(found.card.number)):
            return found
    words = ", ".join(f"{s.card.number} {s.card.id}" for s in states)
    raise UsageError(f"there is no card {said!r}", next_step=f"cards: {words}")


def failed_cards(states: Sequence[CardState]) -> tuple[Card, ...]:
    """Cards that failed."""
    return tuple(s.card for s in states if s.result is not None and s.result.result == "fail")


def job_cards(work: Workplace, job: Job) -> tuple[CardState, ...]:
    """The cards of a refit with what was noted on them."""
    return _states(work, job)


def _of(work: Workplace, job: Job) -> Cards:
    states = _states(work, job)
    says = proven(states, job.refit.gates)
    return Cards(job.refit.aircraft, job, states, says, work.clock.now(), _calibrated(work, job))


def _calibrated(work: Workplace, job: Job) -> tuple[Calibration, ...]:
    """Calibrations kept since the refit began: the logbook tells the order, seconds may not."""
    ids: set[object] = set()
    has_begun = False
    for entry in work.store.book(job.refit.aircraft):
        has_begun = has_begun or entry.body.get("refit") == job.refit.id
        if has_begun and entry.kind == "calibration" and entry.body.get("when") in ("as found", "as left"):
            ids.add(entry.body.get("id"))
    if not ids:
        return ()
    return tuple(one for one in calibrations(work.store, job.refit.aircraft) if one.id in ids)


def _states(work: Workplace, job: Job) -> tuple[CardState, ...]:
    refit = job.refit
    plan: Plan | None = plans.standing(work.store, refit)
    cards = cards_for(
        plan,
        job.new,
        job.old.catalog if job.old else None,
        was_provisional=refit.provisional_digest is not None,
        facts=facts_of(work.store, job, plan),
    )
    return card_states(cards, refit.cards, refit.readings)


def may_be_noted(refit: Refit) -> bool:
    """Whether cards and gates may still be noted on a refit: it is open, or was signed."""
    return not refit.state.is_closed or bool(gates.NEXT[refit.state])


def markable(work: Workplace, aircraft: str) -> Job:
    """The open refit, or one that was signed: cards and flights may be noted after a sign-off."""
    job = state.last_job(work, aircraft)
    if not may_be_noted(job.refit):
        raise NeedsPerson(
            f"refit {job.refit.id} has ended ({job.refit.state.value}); nothing can be noted on it",
            next_step=f"make a new plan: asflown plan {aircraft} --to RELEASE",
        )
    return job


def _refuse_closed(found: CardState, result: str, aircraft: str) -> None:
    if result == "not tested":
        return
    if found.closed_by is not None:
        raise NeedsPerson(
            f"card {found.card.id!r} is closed: {found.closed_by!r} failed",
            next_step="put it right and say what it was: asflown bench fixed"
            f" {found.closed_by} WHAT --note TEXT; or go back: asflown back {aircraft}",
        )
    if found.waits_for is not None:
        raise NeedsPerson(
            f"card {found.card.id!r} waits: {found.waits_for!r} comes first",
            next_step=f"do it and note it: asflown cards mark {found.waits_for} pass",
        )


def _refuse_contradicted(found: CardState) -> None:
    """What was read is not what the card expects: it passes only with a reason."""
    wrong = [one for one in judged(found.card, found.readings) if one.is_as_expected is False]
    if wrong:
        said = "; ".join(
            f"{one.measure.what} {one.reading.value if one.reading else ''}"
            f"{f' {one.measure.unit}' if one.measure.unit else ''}, expected {one.expected}"
            for one in wrong[:3]
        )
        raise NeedsPerson(
            f"card {found.card.id!r}: what was read is not as expected ({said})",
            next_step=f"note it failed: asflown cards mark {found.card.id} fail --note TEXT;"
            " or pass it with the reason: add --note TEXT",
        )


def _with_gates(
    work: Workplace, job: Job, refit: Refit, card: Card, noted: CardResult
) -> tuple[Refit, tuple[GateName, ...]]:
    """Gates that a card's result answers by itself."""
    if card.id == "baseline" and noted.result != "not tested":
        word = "passed" if noted.result == "pass" else "failed"
        says = noted.note or "the baseline card passed"
        return state.answer(work, refit, GateName.BASELINE_FLIGHT, word, says), (GateName.BASELINE_FLIGHT,)
    if card.phase is not Phase.BENCH:
        return refit, ()
    states = _states(work, replace(job, refit=refit))
    bench = [s for s in states if s.card.phase is Phase.BENCH]
    failed = [s.card.id for s in bench if s.result is not None and s.result.result == "fail"]
    if failed:
        says = f"failed: {', '.join(failed)}"
        return state.answer(work, refit, GateName.BENCH_CARDS, "failed", says), (GateName.BENCH_CARDS,)
    if is_bench_checked(states):
        says = f"all {len(bench)} bench cards passed"
        return state.answer(work, refit, GateName.BENCH_CARDS, "passed", says), (GateName.BENCH_CARDS,)
    return _reopened(refit), ()


def _reopened(refit: Refit) -> Refit:
    """Bench cards that neither all passed nor failed are not stated again."""
    rest = {name: gate for name, gate in refit.gates.items() if name != GateName.BENCH_CARDS.value}
    return replace(refit, gates=rest)
