"""Hand one aircraft over as a self-checking bag."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from asflown.app import kept, plans
from asflown.app.needs import Document, Store
from asflown.app.private import Private, private_of
from asflown.app.reduced import reduced_record
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.load.journal import Load
from asflown.core.logbook import Entry
from asflown.core.plan import Plan
from asflown.core.record import Original, Record
from asflown.core.refit import Refit
from asflown.core.study.kept import FlightEvidence
from asflown.formats import bag, documents

ABOUT, BOOK, DOCUMENTS, ORIGINALS = "about.json", "logbook.jsonl", "documents.jsonl", "originals.jsonl"

#: What puts a bag's files somewhere.
Deliver = Callable[[Mapping[str, bytes]], object]

#: Makes files that lie beside what is handed over.
Cover = Callable[["HandedOver"], Mapping[str, bytes]]

#: Version of the layout of a hand-over.
LAYOUT = 1

#: Kinds that hold too much to be reduced: left out whole unless what is private is wanted.
WHOLE_KINDS = ("refit", "plan", "load")

#: What a sealed input's name begins with, and the kind of document it is.
SEALED_KINDS = {"release": "release", "record": "record", "factory record": "record"}


@dataclass(frozen=True)
class HandedOver:
    """A bag of one aircraft.

    Attributes
    ----------
    files
        Every file of the bag by its path.
    left_out
        What is not in it, each with the reason.
    """

    aircraft: str
    files: Mapping[str, bytes]
    documents: int
    originals: int
    entries: int
    left_out: tuple[str, ...]


def hand_over(
    work: Workplace,
    aircraft: str,
    *,
    with_private: bool = False,
    deliver: Deliver | None = None,
    cover: Cover | None = None,
) -> HandedOver:
    """Put everything about one aircraft into a bag, and say so in its logbook.

    Parameters
    ----------
    with_private
        Home position, binding keys and names too; then the aircraft can be worked on elsewhere as here.
    deliver
        Puts the files where the person wants them; when it raises, the logbook says nothing.
    cover
        Makes files to lay beside it from what is handed over, as a sheet on paper.
    """
    kept.aircraft(work.store, aircraft)
    private = None if with_private else private_of(work.store, aircraft, _records(work.store, aircraft))
    with work.store.transaction() as tx:  # nobody writes in between: logbook and documents fit together
        packed = _pack(work.store, aircraft, private)
        book = work.store.book(aircraft)
        body = {
            "with_private": with_private,
            "documents": len(packed.index),
            "originals": len(packed.originals),
            "left_out": len(packed.left_out),
            "last_hash": book[-1].hash if book else "",
        }
        # the entry goes with the bag: whoever takes it in continues from it
        entries = (*book, tx.log(aircraft, "hand-over", body))
        at, left_out = work.clock.now(), tuple(packed.left_out)
        counts = (len(packed.index), len(packed.originals), len(entries), left_out)
        handed = HandedOver(aircraft, _bag(packed, entries, private, at), *counts)
        if cover is not None:
            packed.payload.update(cover(handed))
            handed = replace(handed, files=_bag(packed, entries, private, at))
        if deliver is not None:
            deliver(handed.files)
    return handed


def _bag(packed: _Packed, entries: tuple[Entry, ...], private: Private | None, at: str) -> dict[str, bytes]:
    last = entries[-1]
    about = {
        "layout": LAYOUT,
        "aircraft": last.book,
        "at": at,
        "with_private": private is None,
        "left_out": packed.left_out,
        "last_hash": last.hash,
    }
    payload = {
        **packed.payload,
        BOOK: _lines(_entry(entry, private) for entry in entries),
        DOCUMENTS: _lines(packed.index),
        ORIGINALS: _lines(asdict(original) for original in packed.originals.values()),
        ABOUT: _json(about),
    }
    return bag.make(payload, {"External-Identifier": last.book, "Bagging-Date": at[:10]})


@dataclass(frozen=True)
class _Packed:
    payload: dict[str, bytes]
    originals: dict[str, Original]
    index: list[dict[str, Any]]
    left_out: list[str]


def _pack(store: Store, aircraft: str, private: Private | None) -> _Packed:
    """Every document with its originals; without what is private, and then with what was left out."""
    packed = _Packed({}, {}, [], list(private.says) if private else [])
    for document in _documents(store, aircraft):
        if private is not None and document.kind in WHOLE_KINDS:
            what = f"{document.kind} {document.id} revision {document.revision}"
            packed.left_out.append(f"{what} (SHA-256 {document.sha256}): holds values")
            continue
        body, originals = document.body, originals_of(document)
        if private is not None and document.kind in ("aircraft", "record", "evidence"):
            body, reduced = _reduced(store, document, private, packed.payload)
            packed.left_out.extend(_not_given(originals, reduced))
            if document.kind == "evidence":
                packed.left_out.append(
                    f"flight {document.id}: its place, its pilot, what was found in its log"
                )
            originals = reduced
        for original in originals:
            packed.originals[original.sha256] = original
            path = f"originals/{original.sha256}"
            if path not in packed.payload:
                packed.payload[path] = store.original(original.sha256)
        packed.payload[f"documents/{document.kind}/{document.id}/{document.revision}.json"] = body
        packed.index.append(
            {
                "kind": document.kind,
                "id": document.id,
                "revision": document.revision,
                "sha256": document.sha256,
                "at": document.at,
                "is_reduced": body != document.body,
            }
        )
    return replace(packed, left_out=list(dict.fromkeys(packed.left_out)))


def _not_given(originals: tuple[Original, ...], reduced: tuple[Original, ...]) -> Iterator[str]:
    """Which originals are not in the bag as they are, each by its hash."""
    for original in originals:
        if original not in reduced:
            yield (
                f"original {original.name} (SHA-256 {original.sha256}): left out, it may hold what is private"
                + ("; the same lines without that stand in its place" if reduced else "")
            )


def _documents(store: Store, aircraft: str) -> Iterator[Document]:
    """Every revision of every document about an aircraft, and of what its plans were made from."""
    for kind, id in dict.fromkeys(_named(store, aircraft)):
        yield from store.revisions(kind, id)


def _records(store: Store, aircraft: str) -> Iterator[Record]:
    """The records that go with an aircraft, as they stand last."""
    for kind, id in dict.fromkeys(_named(store, aircraft)):
        if kind == "record" and store.document(kind, id) is not None:
            yield kept.record(store, id)


def _named(store: Store, aircraft: str) -> Iterator[tuple[str, str]]:
    yield "aircraft", aircraft
    for entry in kept.record_entries(store, aircraft):
        yield "record", str(entry.body["id"])
        yield "release", str(entry.body.get("release") or "")
    for found in kept.refits(store, aircraft):
        refit = found.refit
        yield "refit", refit.id
        for id in plans.plan_ids(refit):
            yield "plan", id
        for load, _ in kept.loads(store, refit.id):
            yield "load", load.id
        yield "release", refit.to_release
        yield "release", refit.from_release or ""
        yield "record", refit.source or ""
        yield from _sealed(store, refit)
    from asflown.app.calibrate.kept import calibrations
    from asflown.app.flights.keep import flights_of

    for made in calibrations(store, aircraft):
        yield "calibration", made.id

    for flight in flights_of(store, aircraft):
        yield "evidence", flight.id


def _sealed(store: Store, refit: Refit) -> Iterator[tuple[str, str]]:
    """Releases and records the plans were sealed to, also those of other aircraft."""
    inputs = list(refit.write_out.inputs) if refit.write_out else []
    for plan_id in plans.plan_ids(refit):
        for document in store.revisions("plan", plan_id):
            inputs += documents.load(document.body, Plan).inputs
    for item in inputs:
        words, _, id = item.name.rpartition(" ")
        if words in SEALED_KINDS:
            yield SEALED_KINDS[words], id


def originals_of(document: Document) -> tuple[Original, ...]:
    """The originals a document names.

    Raises
    ------
    Damaged
        When the document cannot be read.
    """
    if document.kind not in ("record", "refit", "release", "evidence", "load", "calibration"):
        return ()
    if document.kind == "calibration":
        from asflown.core.calibrate.kept import Calibration

        return documents.load(document.body, Calibration).originals
    if document.kind == "evidence":
        from asflown.app.flights.keep import ORIGINAL

        log = documents.load(document.body, FlightEvidence).log
        return (Original(log.sha256, log.size, log.name, ORIGINAL),) if log.is_kept else ()
    if document.kind == "record":
        return documents.load(document.body, Record).originals
    if document.kind == "load":
        load = documents.load(document.body, Load)
        return (load.wanted, load.before, *((load.described,) if load.described else ()))
    if document.kind == "refit":
        refit = documents.load(document.body, Refit)
        made = refit.write_out
        written = (made.listing, made.back_listing, made.back_original) if made else ()
        return (*refit.notes, *written)
    from asflown.core.catalog import Release

    return documents.load(document.body, Release).originals


def _reduced(
    store: Store, document: Document, private: Private, payload: dict[str, bytes]
) -> tuple[bytes, tuple[Original, ...]]:
    """A document without what is private, and the originals that go with it."""
    if document.kind == "aircraft":
        aircraft = documents.load(document.body, Aircraft)
        return documents.dump(replace(aircraft, owner=None, remarks=None)), ()
    if document.kind == "evidence":
        flight = documents.load(document.body, FlightEvidence)
        conditions = replace(flight.conditions, place=None, pilot=None)
        # the log itself may name both, and a finding may quote it
        kept_log = replace(flight.log, is_kept=False)
        return documents.dump(replace(flight, conditions=conditions, findings=(), log=kept_log)), ()
    reduced, listing = reduced_record(store, documents.load(document.body, Record), private)
    for data in listing:
        payload[f"originals/{reduced.originals[0].sha256}"] = data
    return documents.dump(reduced), reduced.originals


def _entry(entry: Entry, private: Private | None) -> dict[str, Any]:
    whole = asdict(entry)
    if private is None:
        return whole
    shown = private.without(whole)
    if shown != whole:
        shown["is_reduced"] = True  # its hash cannot be made anew, its links can
    return dict(shown)


def _json(body: object) -> bytes:
    return (json.dumps(body, ensure_ascii=False, sort_keys=True) + "\n").encode()


def _lines(bodies: Iterator[dict[str, Any]] | list[dict[str, Any]]) -> bytes:
    return b"".join(_json(body) for body in bodies)
