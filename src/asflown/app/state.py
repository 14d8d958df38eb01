"""Where a refit stands, with everything the later steps of the job look at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from asflown.app import gates, kept, plans
from asflown.app.known import with_factory
from asflown.app.needs import Document, Store, Transaction
from asflown.app.question import gather
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.catalog import Catalog, CatalogSource, Release
from asflown.core.plan import Plan, Sealed
from asflown.core.record import Record
from asflown.core.refit import Gate, GateName, Refit, State
from asflown.errors import NeedsPerson
from asflown.formats import documents


@dataclass(frozen=True)
class Job:
    """A refit with its aircraft, its as-found record and both releases.

    Attributes
    ----------
    found
        The as-found record of this aircraft (not of a proven one it is copied from).
    old
        The release of ``found``, with its factory values where known.
    new
        The new release's catalog; factory values captured from the board win.
    """

    refit: Refit
    revision: int
    aircraft: Aircraft
    found: Record
    old: Release | None
    new: Catalog | None


def open_job(work: Workplace, aircraft: str) -> Job:
    """The open refit of an aircraft.

    Raises
    ------
    NeedsPerson
        When none is open.
    """
    return job_of(work.store, kept.needed_refit(work.store, aircraft))


def last_job(work: Workplace, aircraft: str) -> Job:
    """The open refit, or else the one that ended last.

    Raises
    ------
    NeedsPerson
        When the aircraft never had one.
    """
    found = kept.open_refit(work.store, aircraft)
    if found is None:
        every = kept.refits(work.store, aircraft)
        found = every[-1] if every else kept.needed_refit(work.store, aircraft)
    return job_of(work.store, found)


def job_of(store: Store, found: kept.KeptRefit) -> Job:
    """Everything about one refit, as it is kept now."""
    refit = found.refit
    record = kept.record(store, refit.found)
    inputs = refit.write_out.inputs if refit.write_out else ()
    question = gather(store, refit, with_precedents=False).question
    new = question.new.catalog
    if question.factory is not None:
        new = with_factory(new, question.factory)
    aircraft = kept.aircraft(store, refit.aircraft)
    return Job(refit, found.revision, aircraft, record, old_release(store, record, inputs), new)


def old_release(store: Store, record: Record, inputs: tuple[Sealed, ...] = ()) -> Release | None:
    """The release a record was taken under, with its factory values where known.

    Parameters
    ----------
    inputs
        Named hashes a plan was sealed to: a release or factory record named there is taken in exactly
        that revision, so that a way back can be rebuilt as it was made.
    """
    if record.release is None:
        return None
    sealed = {item.name: item.sha256 for item in inputs}
    document = revision_of(store, "release", record.release, sealed.get(f"release {record.release}"))
    release = documents.load(document.body, Release) if document else None
    if release is not None and release.catalog is not None:
        return release
    learned = _learned(store, record, sealed)
    if learned is None:
        return release
    firmware, _, version = record.release.rpartition("-")
    bare = release or Release(record.release, firmware or record.release, version)
    return replace(bare, catalog=learned)


def _learned(store: Store, record: Record, sealed: Mapping[str, str]) -> Catalog | None:
    """A catalog learned from a factory listing some board showed under the record's release."""
    assert record.release is not None
    named = [factory for factory in _sealed_factory(store, sealed) if factory.release == record.release]
    for factory in named or kept.factory_records(store, record.release):
        document = revision_of(store, "record", factory.id, sealed.get(f"factory record {factory.id}"))
        if document is not None:
            learned = with_factory(None, documents.load(document.body, Record))
            return replace(learned, source=CatalogSource.PROVISIONAL)
    return None


def _sealed_factory(store: Store, sealed: Mapping[str, str]) -> Iterator[Record]:
    """The factory records a plan was sealed to; one that came with a hand-over is in no logbook here."""
    for name in sealed:
        words, _, id = name.rpartition(" ")
        if words == "factory record" and store.document("record", id) is not None:
            yield kept.record(store, id)


def sealed_record(store: Store, id: str, inputs: tuple[Sealed, ...]) -> Record:
    """A record in the revision a plan was sealed to; the latest where that is not kept."""
    sealed = {item.name: item.sha256 for item in inputs}
    document = revision_of(store, "record", id, sealed.get(f"record {id}"))
    return kept.record(store, id) if document is None else documents.load(document.body, Record)


def revision_of(store: Store, kind: str, id: str, sha256: str | None) -> Document | None:
    """The revision with that hash; the latest one where no hash is given or none has it."""
    if sha256 is not None:
        for document in store.revisions(kind, id):
            if document.sha256 == sha256:
                return document
    return store.document(kind, id)


def written_plan(store: Store, refit: Refit) -> Plan:
    """The plan a listing was written out from.

    Raises
    ------
    NeedsPerson
        When nothing was written out.
    """
    if refit.write_out is None:
        raise NeedsPerson(
            f"nothing was written out for refit {refit.id} ({refit.state.value})",
            next_step=gates.next_act(refit),
        )
    for document in reversed(store.revisions("plan", plans.written_id(refit))):
        plan = documents.load(document.body, Plan)
        if plan.digest == refit.write_out.plan_digest:
            return plan
    raise NeedsPerson(
        f"the plan that refit {refit.id} was written out from is not kept any more",
        next_step="check what is kept: asflown verify",
    )


def put(tx: Transaction, job: Job, refit: Refit) -> Job:
    """Put a changed refit; refused when someone else changed it in between."""
    document = tx.put("refit", refit.id, documents.dump(refit), expect=job.revision)
    return replace(job, refit=refit, revision=document.revision)


def log_gate(tx: Transaction, refit: Refit, name: GateName) -> None:
    """Write a gate's answer into the logbook."""
    gate = refit.gates[name.value]
    tx.log(
        refit.aircraft,
        "gate",
        {"refit": refit.id, "gate": name.value, "answer": gate.answer, "statement": gate.statement},
    )


def answer(work: Workplace, refit: Refit, name: GateName, answer: str, statement: str) -> Refit:
    """The refit with a gate answered now, by who works."""
    return gates.answered(refit, name, Gate(answer, statement, work.clock.now(), work.who))


def become(refit: Refit, wanted: State) -> Refit:
    """The refit in another state (see :func:`gates.moved`)."""
    return gates.moved(refit, wanted)


def gate_rows(refit: Refit) -> tuple[tuple[str, str, str], ...]:
    """Name, answer and statement of every gate; *not stated* where nobody said anything."""
    return tuple(
        (name.value, gate.answer if gate else gates.NOT_STATED, gate.statement if gate else "")
        for name, gate in gates.standing(refit)
    )


def gate_json(refit: Refit) -> list[dict[str, Any]]:
    """Every gate for ``--json``."""
    return [
        {"gate": name, "answer": said, "statement": statement} for name, said, statement in gate_rows(refit)
    ]


def put_aircraft(
    work: Workplace, tx: Transaction, job: Job, *, release: str | None, board: str | None, why: str
) -> None:
    """Give the aircraft its release and board by a new revision, logged; nothing when both stand so."""
    before, document = kept.aircraft_with_document(work.store, job.refit.aircraft)
    after = replace(before, release=release, board=board)
    if after == before:
        return
    made = tx.put("aircraft", before.id, documents.dump(after), expect=document.revision)
    body = {
        "id": before.id,
        "what": why,
        "release": [before.release, release],
        "board": [before.board, board],
        "sha256": made.sha256,
    }
    tx.log(before.id, "aircraft", body)
