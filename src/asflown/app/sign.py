"""Sign off: the end of a refit that was read back as planned."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app import gates, kept, state
from asflown.app.cards import failed_cards, job_cards
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.core.bench.refit_items import keys_of
from asflown.core.cards import CardState, proven
from asflown.core.carry.dispositions import Disposition
from asflown.core.plan import Plan
from asflown.core.record import Record
from asflown.core.refit import GateName, State
from asflown.errors import Fault, NeedsPerson, UsageError

NO_CERTIFICATE = (
    "This is a maintenance entry. It is not a certificate of airworthiness "
    "unless your authority's rules make it one."
)

#: Gates whose failure must be settled before a sign-off.
MUST_NOT_FAIL = (GateName.IMAGE, GateName.LOADING, GateName.BENCH_CARDS, GateName.TRIAL_FLIGHT)


@dataclass(frozen=True, slots=True)
class Signature:
    """Who signs: name, role, and what they want to add."""

    name: str
    role: str
    remark: str = ""


@dataclass(frozen=True)
class Signed:
    """A sign-off.

    Attributes
    ----------
    proven
        What it claims, in words.
    redo
        What must still be done again on the aircraft, as far as no card says that it was.
    """

    job: Job
    plan: Plan
    as_left: Record
    signature: Signature
    proven: str
    cards: tuple[CardState, ...]
    redo: tuple[str, ...]
    sheet: int
    at: str


def sign(work: Workplace, aircraft: str, signature: Signature) -> Signed:
    """Sign the open refit off; the as-left record becomes the aircraft's state.

    Raises
    ------
    NeedsPerson
        When it was not read back as planned, or a card or gate failed.
    UsageError
        When name or role is empty.
    """
    if not signature.name.strip() or not signature.role.strip():
        raise UsageError(
            "a sign-off needs a name and a role", next_step="add --name 'FULL NAME' --role 'ROLE'"
        )
    job = state.open_job(work, aircraft)
    plan = _read_back(work, job)
    cards = job_cards(work, job)
    _nothing_failed(job, cards)
    refit = state.become(job.refit, State.SIGNED)
    claim = proven(cards, refit.gates)
    as_left = kept.record(work.store, str(refit.as_left))
    redo = _redo(plan, cards)
    with work.store.transaction() as tx:
        sheet = tx.next_sheet(refit.aircraft)
        job = state.put(tx, job, refit)
        body = _entry(job, plan, as_left, signature, claim, redo, cards)
        tx.log(refit.aircraft, "sign-off", {"sheet": sheet, **body})
        if refit.device == "board":
            board = refit.to_board or job.aircraft.board
            why = f"signed off on sheet {sheet:03d}"
            state.put_aircraft(work, tx, job, release=refit.to_release, board=board, why=why)
    return Signed(job, plan, as_left, signature, claim, cards, redo, sheet, work.clock.now())


def _read_back(work: Workplace, job: Job) -> Plan:
    """The plan, if the aircraft was read back as planned."""
    if job.refit.state is State.PARTLY_WRITTEN:
        raise NeedsPerson(
            f"{job.refit.aircraft} is partly written: do not fly, and nothing is signed",
            next_step=gates.next_act(job.refit)
            if job.refit.on_board
            else "write the rest (asflown write-out --rest FILE) and read it back, or go back: "
            f"asflown back {job.refit.aircraft}",
        )
    gates.require(
        job.refit,
        GateName.READ_BACK,
        before="the sign-off",
        next_step=gates.next_act(job.refit),
    )
    if job.refit.state is not State.READ_BACK or job.refit.as_left is None:
        raise NeedsPerson(
            f"refit {job.refit.id} is {job.refit.state.value!r}, not read back",
            next_step=gates.next_act(job.refit),
        )
    return state.written_plan(work.store, job.refit)


def _nothing_failed(job: Job, cards: tuple[CardState, ...]) -> None:
    faults = [Fault("failed", f"card {card.id}") for card in failed_cards(cards)]
    for name in MUST_NOT_FAIL:
        gate = job.refit.gates.get(name.value)
        if gate is not None and gate.answer == "failed":
            faults.append(Fault(f"failed: {gate.statement}", f"gate {name.value}"))
    if faults:
        raise NeedsPerson(
            "nothing is signed while something failed",
            faults=tuple(faults),
            next_step="fix it and do it again (asflown cards mark CARD pass), or go back: "
            f"asflown back {job.refit.aircraft}",
        )


def _redo(plan: Plan, cards: tuple[CardState, ...]) -> tuple[str, ...]:
    """Calibrations of the plan, unless their card passed."""
    if any(state.card.id == "calibrations" and state.word == "pass" for state in cards):
        return ()
    return tuple(
        str(key) for line in plan.lines if line.disposition is Disposition.REDO for key in keys_of(line)
    )


def _entry(
    job: Job,
    plan: Plan,
    as_left: Record,
    signature: Signature,
    claim: str,
    redo: tuple[str, ...],
    cards: tuple[CardState, ...],
) -> dict[str, object]:
    account = plan.account
    return {
        "refit": job.refit.id,
        "name": signature.name.strip(),
        "role": signature.role.strip(),
        "remark": signature.remark.strip(),
        "statement": claim,
        "from": plan.from_release,
        "to": plan.to_release,
        "as_found": [job.found.id, job.found.digest],
        "as_left": [as_left.id, as_left.digest],
        "plan": plan.digest,
        "account": {
            "found": account.found,
            "kept": account.kept,
            "converted": account.converted,
            "gone": account.gone,
            "redo": account.redo,
            "new": account.new,
        },
        "decisions": len(job.refit.decisions),
        "redo": list(redo),
        "gates": [[name, said, says] for name, said, says in state.gate_rows(job.refit)],
        "cards": [[s.card.id, s.word, s.result.note if s.result else ""] for s in cards],
        "certificate": NO_CERTIFICATE,
    }
