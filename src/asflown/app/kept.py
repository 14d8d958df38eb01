"""Typed access to what the store keeps, and the sensible current aircraft and open refit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from asflown.app.needs import Document, Store
from asflown.core.aircraft import Aircraft
from asflown.core.catalog import ChangeNotes, Release
from asflown.core.load.journal import Load
from asflown.core.logbook import Entry
from asflown.core.record import Moment, Record
from asflown.core.refit import Refit, State
from asflown.errors import NeedsPerson, UsageError
from asflown.formats import documents

#: Convenience value: the aircraft used last.
CURRENT = "current_aircraft"

#: The logbook of releases.
RELEASES = "releases"

Kept = TypeVar("Kept")


def _get(store: Store, kind: str, id: str, type_: type[Kept]) -> tuple[Kept, Document] | None:
    document = store.document(kind, id)
    if document is None:
        return None
    return documents.load(document.body, type_), document


# ------------------------------------------------------------------------------------------ aircraft


def aircraft_with_document(store: Store, id: str) -> tuple[Aircraft, Document]:
    """An aircraft and the revision it stands in.

    Raises
    ------
    UsageError
        When there is none of that name.
    """
    found = _get(store, "aircraft", id, Aircraft)
    if found is None:
        known = [document.id for document in store.documents("aircraft")]
        says = f"known: {', '.join(known)}" if known else "no aircraft is described yet"
        raise UsageError(f"there is no aircraft {id!r} ({says})", next_step=_name_or_new(id, known))
    return found


def _name_or_new(said: str, known: Sequence[str]) -> str:
    """What to do about a name that is not there: the one it is nearly spelt like, or a new one."""
    from difflib import get_close_matches

    near = get_close_matches(said, known, n=1)
    new = f"describe it: asflown aircraft new {said}"
    return f"{near[0]} is meant? else {new}" if near else new


def aircraft(store: Store, id: str) -> Aircraft:
    """An aircraft (see :func:`aircraft_with_document`)."""
    return aircraft_with_document(store, id)[0]


def all_aircraft(store: Store) -> tuple[Aircraft, ...]:
    """Every aircraft, by id."""
    return tuple(documents.load(document.body, Aircraft) for document in store.documents("aircraft"))


def aircraft_meant(store: Store, said: str | None) -> str:
    """The aircraft a command is about: the one said, else the one used last, else the only one.

    Raises
    ------
    UsageError
        When that does not name one.
    """
    if said is not None:
        return aircraft(store, said).id
    last = store.memory(CURRENT)
    if last is not None and store.document("aircraft", last) is not None:
        return last
    known = store.documents("aircraft")
    if len(known) == 1:
        return known[0].id
    if not known:
        raise UsageError(
            "no aircraft is described yet", next_step="describe one: asflown aircraft new plover"
        )
    raise UsageError(
        f"which aircraft? known: {', '.join(document.id for document in known)}",
        next_step="name it, or choose one for what follows: asflown aircraft use ID",
    )


# ------------------------------------------------------------------------------------------ records


def record_with_document(store: Store, id: str) -> tuple[Record, Document]:
    """A record and the revision it stands in.

    Raises
    ------
    UsageError
        When there is none of that name.
    """
    found = _get(store, "record", id, Record)
    if found is None:
        step = "list them: asflown records list"
        if store.document("aircraft", id) is not None:
            step = f"{id} is an aircraft; list its records: asflown records list {id}"
        raise UsageError(f"there is no record {id!r}", next_step=step)
    return found


def record(store: Store, id: str) -> Record:
    """A record (see :func:`record_with_document`)."""
    return record_with_document(store, id)[0]


def record_entries(
    store: Store, aircraft: str, *, device: str | None = None, moments: tuple[Moment, ...] = tuple(Moment)
) -> tuple[Entry, ...]:
    """The logbook entries of an aircraft's records, oldest first (cheap: no record is read)."""
    return tuple(
        entry
        for entry in store.book(aircraft)
        if entry.kind == "record"
        and entry.body.get("moment") in moments
        and (device is None or entry.body.get("device") == device)
    )


def latest_record(
    store: Store,
    aircraft: str,
    *,
    device: str = "board",
    moments: tuple[Moment, ...] = (Moment.AS_FOUND, Moment.AS_LEFT),
) -> Record | None:
    """The newest record of an aircraft's device, ``None`` where there is none."""
    entries = record_entries(store, aircraft, device=device, moments=moments)
    return record(store, str(entries[-1].body["id"])) if entries else None


def factory_records(store: Store, release: str, *, aircraft: str | None = None) -> Iterator[Record]:
    """Factory listings captured under a release, newest first within each aircraft's book."""
    for book in (aircraft,) if aircraft else store.books():
        if book == RELEASES:
            continue
        for entry in reversed(record_entries(store, book, moments=(Moment.FACTORY,))):
            if entry.body.get("release") == release:
                yield record(store, str(entry.body["id"]))


def records_of_listing(store: Store, sha256: str) -> tuple[str, ...]:
    """Every record, of any aircraft, that was read from exactly these bytes."""
    return tuple(
        str(entry.body["id"])
        for book in store.books()
        for entry in record_entries(store, book)
        if (entry.body.get("originals") or [None])[0] == sha256
    )


# ------------------------------------------------------------------------------------------ releases


def release_with_document(store: Store, id: str) -> tuple[Release, Document] | None:
    """A release and the revision it stands in, ``None`` where it was not brought in."""
    return _get(store, "release", id, Release)


def release(store: Store, id: str) -> Release:
    """A release.

    Raises
    ------
    UsageError
        When it was not brought in.
    """
    found = release_with_document(store, id)
    if found is None:
        known = [document.id for document in store.documents("release")]
        says = f"known: {', '.join(known)}" if known else "none was brought in yet"
        raise UsageError(
            f"there is no release {id!r} ({says})", next_step="bring it in: asflown release add FOLDER"
        )
    return found[0]


def all_releases(store: Store) -> tuple[tuple[Release, Document], ...]:
    """Every release with its revision, by id."""
    return tuple((documents.load(d.body, Release), d) for d in store.documents("release"))


@dataclass(frozen=True, slots=True)
class NotesOfRelease:
    """A release's change notes alone: to find a way through many releases, their catalogs are not read."""

    id: str
    notes: tuple[ChangeNotes, ...] | None = None


def notes_of_releases(store: Store) -> tuple[tuple[NotesOfRelease, Document], ...]:
    """The change notes of every release with its revision, by id."""
    return tuple(
        (documents.load(d.body, NotesOfRelease, kind="release"), d) for d in store.documents("release")
    )


# ------------------------------------------------------------------------------------------ refits


@dataclass(frozen=True, slots=True)
class KeptRefit:
    """A refit and the revision it stands in (what ``expect`` is given when it is put back)."""

    refit: Refit
    revision: int


def refit(store: Store, id: str) -> KeptRefit | None:
    """A refit by its identifier."""
    found = _get(store, "refit", id, Refit)
    return None if found is None else KeptRefit(found[0], found[1].revision)


def refits(store: Store, aircraft: str) -> tuple[KeptRefit, ...]:
    """Every refit of an aircraft, oldest first."""
    made: list[KeptRefit] = []
    while (found := refit(store, refit_id(aircraft, len(made) + 1))) is not None:
        made.append(found)
    return tuple(made)


def refit_id(aircraft: str, number: int) -> str:
    """``<aircraft>-r<number>``."""
    return f"{aircraft}-r{number}"


def open_refit(store: Store, aircraft: str, *, device: str | None = None) -> KeptRefit | None:
    """The refit of an aircraft that has not ended, ``None`` where there is none."""
    for kept in reversed(refits(store, aircraft)):
        if not kept.refit.state.is_closed and (device is None or kept.refit.device == device):
            return kept
    return None


def needed_refit(store: Store, aircraft: str, *, device: str | None = None) -> KeptRefit:
    """The open refit of an aircraft.

    Raises
    ------
    NeedsPerson
        When none is open.
    """
    kept = open_refit(store, aircraft, device=device)
    if kept is None:
        raise _none_open(store, aircraft)
    return kept


def _none_open(store: Store, aircraft: str) -> NeedsPerson:
    """Why no refit is open: there was none yet, or the last one has ended."""
    plan = f"make a plan: asflown plan {aircraft} --to RELEASE"
    every = refits(store, aircraft)
    if not every:
        return NeedsPerson(f"no refit is open for {aircraft}, and there was none yet", next_step=plan)
    last = every[-1].refit
    step = f"see how it went: asflown logbook {aircraft}; or {plan}"
    if last.state is State.SIGNED:
        step += f"; or go back from it: asflown back {aircraft}"
    return NeedsPerson(
        f"no refit is open for {aircraft}: the last one, {last.id}, has ended ({last.state.value})",
        next_step=step,
    )


def load_id(refit: str, number: int) -> str:
    """``<refit>-load<number>``."""
    return f"{refit}-load{number}"


def loads(store: Store, refit: str) -> tuple[tuple[Load, Document], ...]:
    """Every load of a refit with its revision, oldest first."""
    made: list[tuple[Load, Document]] = []
    while (found := _get(store, "load", load_id(refit, len(made) + 1), Load)) is not None:
        made.append(found)
    return tuple(made)


def plan_id(refit: Refit, *, provisional: bool) -> str:
    """Where the plans of a refit are kept; each new one is a further revision."""
    return f"{refit.id}-{'provisional' if provisional else 'final'}"
