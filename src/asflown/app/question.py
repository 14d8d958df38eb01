"""Gather what a carry-over is made from, and the named hashes it is sealed to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from asflown.app import kept
from asflown.app.known import with_factory
from asflown.app.needs import Store
from asflown.app.precedents import precedents_for
from asflown.app.sealed_flight import sealed_flight
from asflown.core.carry.carry import Question
from asflown.core.carry.chain import find_path
from asflown.core.carry.precedent import Precedent
from asflown.core.carry.settle import Decision
from asflown.core.catalog import CatalogSource, ChangeNotes, Release
from asflown.core.plan import Sealed
from asflown.core.record import Moment, Record, digest_of
from asflown.core.refit import Refit


@dataclass(frozen=True)
class Gathered:
    """A question with its named hashes.

    Attributes
    ----------
    path_says
        Where no chain of change notes leads from the old to the new release: the fact, in a sentence.
    """

    question: Question
    inputs: tuple[Sealed, ...]
    path_says: str | None = None


def decisions_digest(decisions: Sequence[Decision]) -> str:
    """SHA-256 over every decision, in order."""
    return digest_of(
        [
            [d.group, d.option, sorted(d.lines.items()), d.reason, d.who, d.at, sorted(d.values.items())]
            for d in decisions
        ]
    )


def gather(store: Store, refit: Refit, *, with_precedents: bool = True) -> Gathered:
    """Everything a refit's plan is made from, as it is kept now.

    Parameters
    ----------
    with_precedents
        Read what was decided in other refits too: needed for a plan, not to know the releases.
    """
    record, record_document = kept.record_with_document(store, refit.source or refit.found)
    inputs = [Sealed(f"record {record.id}", record_document.sha256)]
    target: Record | None = None
    if refit.source is not None:
        target, target_document = kept.record_with_document(store, refit.found)
        inputs.append(Sealed(f"record {target.id}", target_document.sha256))
    old = _release(store, record.release, inputs)
    new = _release(store, refit.to_release, inputs) or _bare(refit.to_release)
    factory = None
    if refit.factory is not None:
        factory, factory_document = kept.record_with_document(store, refit.factory)
        inputs.append(Sealed(f"factory record {factory.id}", factory_document.sha256))
    elif new.catalog is None:
        new = _from_another_board(store, new, inputs)
    notes, says = _notes(store, refit, record.release, inputs)
    aircraft, aircraft_document = kept.aircraft_with_document(store, refit.aircraft)
    inputs.append(Sealed(f"aircraft {aircraft.id}", aircraft_document.sha256))
    inputs.append(Sealed("decisions", decisions_digest(refit.decisions)))
    inputs += sealed_flight(store, refit)
    question = Question(
        record=record,
        old=old,
        new=new,
        notes=notes,
        purpose=refit.purpose,
        aircraft=aircraft,
        factory=factory,
        target=target,
        to_board=refit.to_board,
        precedents=_precedents(store, refit, old, new) if with_precedents else (),
    )
    return Gathered(question, tuple(inputs), says)


def _precedents(store: Store, refit: Refit, old: Release | None, new: Release) -> tuple[Precedent, ...]:
    return precedents_for(store, refit, old.catalog if old else None, new.catalog)


def _bare(id: str) -> Release:
    """A release of which only the name is known."""
    firmware, _, version = id.rpartition("-")
    return Release(id=id, firmware=firmware or id, version=version)


def _release(store: Store, id: str | None, inputs: list[Sealed]) -> Release | None:
    """A release with the factory values a board showed under it; ``None`` where nothing is known."""
    if id is None:
        return None
    found = kept.release_with_document(store, id)
    release = found[0] if found else None
    if found is not None:
        sealed = Sealed(f"release {id}", found[1].sha256)
        if sealed not in inputs:
            inputs.append(sealed)
    if release is not None and release.catalog is not None and release.catalog.factory:
        return release
    return _with_old_factory(store, release, id, inputs)


def _with_old_factory(store: Store, release: Release | None, id: str, inputs: list[Sealed]) -> Release | None:
    """Factory values of a release nobody stated, from any board that showed them."""
    if release is not None and release.catalog is not None:
        return release  # a stated catalog has its own defaults
    for factory in kept.factory_records(store, id):
        document = store.document("record", factory.id)
        assert document is not None
        inputs.append(Sealed(f"factory record {factory.id}", document.sha256))
        learned = replace(with_factory(None, factory), source=CatalogSource.PROVISIONAL)
        return replace(release or _bare(id), catalog=learned)
    return release


def _from_another_board(store: Store, new: Release, inputs: list[Sealed]) -> Release:
    found = _with_old_factory(store, new, new.id, inputs)
    return found or new


def _notes(
    store: Store,
    refit: Refit,
    from_release: str | None,
    inputs: list[Sealed],
) -> tuple[tuple[ChangeNotes, ...], str | None]:
    """The chain of change notes from every release known and from the files given for this refit."""
    known: list[ChangeNotes] = []
    owners: dict[int, Sealed] = {}
    for release, document in kept.notes_of_releases(store):
        for notes in release.notes or ():
            known.append(notes)
            owners[id(notes)] = Sealed(f"release {release.id}", document.sha256)
    known += given_notes(store, refit)
    if from_release is None:
        return (), "the old release is not stated, so no change notes can be followed"
    path = find_path(known, from_release, refit.to_release)
    if path is None:
        return (), f"no change notes lead from {from_release} to {refit.to_release}"
    steps = {(notes.from_release, notes.to_release) for notes in path}
    for notes in known:
        if (notes.from_release, notes.to_release) in steps:
            sealed = owners.get(id(notes)) or _sealed_file(notes)
            if sealed not in inputs:
                inputs.append(sealed)
    return path, None


def read_notes(data: bytes, name: str) -> ChangeNotes:
    """The change notes a file holds; raises `InputError` with every fault."""
    from asflown.formats import notes

    return notes.read(data, name)


def given_notes(store: Store, refit: Refit) -> tuple[ChangeNotes, ...]:
    """The change notes a person gave for this refit, read from the originals kept."""
    return tuple(
        replace(read_notes(store.original(original.sha256), original.name), original=original)
        for original in refit.notes
    )


def _sealed_file(notes: ChangeNotes) -> Sealed:
    assert notes.original is not None
    return Sealed(f"notes {notes.original.name}", notes.original.sha256)


def captured(store: Store, aircraft: str, device: str, release: str) -> str | None:
    """The newest factory record this aircraft's own board showed under a release."""
    for entry in reversed(kept.record_entries(store, aircraft, device=device, moments=(Moment.FACTORY,))):
        if entry.body.get("release") == release:
            return str(entry.body["id"])
    return None
