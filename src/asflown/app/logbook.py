"""Read logbooks, and verify everything kept: chains, documents, originals, and the ways back."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from asflown.app import kept
from asflown.app.needs import Store
from asflown.core.logbook import Entry, check_chain
from asflown.errors import AsflownError, Fault, UsageError

#: Kinds of documents that are checked.
KINDS = ("aircraft", "record", "release", "refit", "plan", "evidence", "layout")


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """One way back that was rebuilt from what is kept.

    Attributes
    ----------
    says
        What was compared, or why it does not hold.
    """

    refit: str
    holds: bool
    says: str


@dataclass(frozen=True)
class Verified:
    """What a check of everything kept found.

    Attributes
    ----------
    entries, documents, originals
        How many were checked.
    rehearsals
        The ways back that were rebuilt and compared byte by byte.
    loose
        Files among the originals that nothing names, left by a process that was killed; no fault.
    """

    books: int
    entries: int
    documents: int
    originals: int
    faults: tuple[Fault, ...]
    rehearsals: tuple[Rehearsed, ...]
    loose: int = 0

    @property
    def holds(self) -> bool:
        """Whether nothing is damaged and every rehearsal came out."""
        return not self.faults and all(rehearsed.holds for rehearsed in self.rehearsals)


@dataclass(frozen=True)
class Book:
    """A logbook, and the entries of another store that came with a hand-over without what is private.

    Attributes
    ----------
    received
        Entries that came; they stand in a file of their own, since their hashes cannot all be made anew.
    not_hashed
        How many of these came without what is private, so that their hash can only be compared with
        what the entry behind it names.
    chain_faults
        What does not hold in the chain of those that came.
    """

    name: str
    entries: tuple[Entry, ...]
    received: tuple[Entry, ...] = ()
    not_hashed: int = 0
    chain_faults: tuple[str, ...] = ()


def read_book(store: Store, said: str | None) -> Book:
    """The logbook of an aircraft (or ``releases``), oldest entry first.

    Raises
    ------
    UsageError
        When there is no such book.
    """
    if said is not None and said in store.books():
        return _with_received(store, said)
    if said == kept.RELEASES:
        raise UsageError(
            "no release was brought in yet", next_step="bring one in: asflown release add FOLDER"
        )
    book = kept.aircraft_meant(store, said)
    return _with_received(store, book)


def _with_received(store: Store, name: str) -> Book:
    """A book with the entries of the newest hand-over that could not be taken in one by one."""
    from asflown.app.receive import chain_faults, read_entries

    entries = store.book(name)
    files = [str(e.body["logbook"]) for e in entries if e.kind == "received" and e.body.get("logbook")]
    if not files:
        return Book(name, entries)
    came = read_entries(store.original(files[-1]), name)
    faults = tuple(f"entry {fault.number} {fault.what}" for fault in chain_faults(came, name))
    return Book(name, entries, tuple(one.entry for one in came), sum(one.is_reduced for one in came), faults)


def verify(store: Store) -> Verified:
    """Check every chain, document and original, and rehearse every way back that was made.

    Returns
    -------
    Verified
        Everything that does not hold, in words; nothing is changed.
    """
    faults: list[Fault] = []
    books = store.books()
    entries = 0
    for book in books:
        chain = store.book(book)
        entries += len(chain)
        faults += [Fault(fault.what, f"logbook {book} entry {fault.number}") for fault in check_chain(chain)]
        faults += _promises(store, chain)
    faults += _cut_off(store)
    faults += store.faults()
    documents, damaged = _documents(store)
    faults += damaged
    originals = store.originals()
    for original in originals:
        try:
            store.original(original.sha256)
        except AsflownError as error:
            faults.append(Fault(error.what, f"original {original.name} {original.sha256[:12]}"))
    rehearsals = () if faults else tuple(_rehearse(store))
    loose = len(store.loose_files())
    told = tuple(dict.fromkeys(faults))  # store and documents may say the same
    return Verified(len(books), entries, documents, len(originals), told, rehearsals, loose)


def _cut_off(store: Store) -> Iterator[Fault]:
    """A chain does not show that its last entries are gone; what is kept a second time does."""
    for book, (number, hash) in store.heads().items():
        chain = store.book(book)
        if number < 1:
            continue  # a line of the second place that says nothing
        if len(chain) < number:
            yield Fault(f"went to entry {number}, and ends at {len(chain)} now", f"logbook {book}")
        elif chain[number - 1].hash != hash:
            yield Fault("is not the entry that was last written", f"logbook {book} entry {number}")


def _documents(store: Store) -> tuple[int, list[Fault]]:
    """Hash every revision of every document, and look for the originals it names."""
    from asflown.app.handover import originals_of

    here = {original.sha256 for original in store.originals()}
    number, faults = 0, []
    for kind in KINDS:
        for latest in store.documents(kind):
            for document in store.revisions(kind, latest.id):
                number += 1
                where = f"{kind} {document.id} revision {document.revision}"
                if hashlib.sha256(document.body).hexdigest() != document.sha256:
                    faults.append(Fault("was changed after it was kept", where))
                    continue
                try:
                    gone = [o for o in originals_of(document) if o.sha256 not in here]
                except AsflownError as error:
                    faults.append(Fault(error.what, where))
                    continue
                faults += [
                    Fault(f"names original {o.name} {o.sha256[:12]}, which is not kept", where) for o in gone
                ]
    return number, faults


#: Which document an entry's hash is of, where that is not a document of the entry's own kind.
_OF_KIND = {"correction": "record", "flight": "evidence"}


def _promises(store: Store, chain: tuple[Entry, ...]) -> Iterator[Fault]:
    """Every document whose hash a logbook entry names must still be there with that hash."""
    for entry in chain:
        yield from _promised_plan(store, entry)
        if "received" in entry.body:
            continue  # the record came without what is private, and has another hash here
        promised = entry.body.get("sha256")
        named = entry.body.get("id") or entry.body.get("record")
        if (
            entry.kind not in ("record", "aircraft", "release", "plan", "correction", "evidence", "flight")
            or not promised
            or not named
        ):
            continue
        kind = _OF_KIND.get(entry.kind, entry.kind)
        if all(document.sha256 != promised for document in store.revisions(kind, str(named))):
            where = f"logbook {entry.book} entry {entry.number}"
            yield Fault(f"names {kind} {named} with hash {str(promised)[:12]}, and none is kept", where)


def _promised_plan(store: Store, entry: Entry) -> Iterator[Fault]:
    """The plan a listing was written out from."""
    id, sha256 = entry.body.get("plan_document") or (None, None)
    if id is None or any(document.sha256 == sha256 for document in store.revisions("plan", str(id))):
        return
    where = f"logbook {entry.book} entry {entry.number}"
    yield Fault(f"names plan {id} with hash {str(sha256)[:12]}, and none is kept", where)


def _rehearse(store: Store) -> Iterator[Rehearsed]:
    """Rebuild each way back from the as-found original and compare it byte by byte."""
    from asflown.app.rehearse import rehearse

    for document in store.documents("aircraft"):
        for found in kept.refits(store, document.id):
            if found.refit.write_out is not None:
                rehearsal = rehearse(store, found.refit)
                yield Rehearsed(found.refit.id, rehearsal.holds, rehearsal.says)
