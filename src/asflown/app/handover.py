"""Hand one aircraft over as a self-checking bag."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from asflown.app import kept
from asflown.app.needs import Document, Store
from asflown.app.private import Private, private_of, reduced_record
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.logbook import Entry
from asflown.core.record import Original, Record
from asflown.core.refit import Refit
from asflown.formats import bag, documents

ABOUT, BOOK, DOCUMENTS, ORIGINALS = "about.json", "logbook.jsonl", "documents.jsonl", "originals.jsonl"

#: Kinds that are handed over in every case, and those that hold too much to be reduced.
OPEN_KINDS = ("aircraft", "record", "release")
WHOLE_KINDS = ("refit", "plan")


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


def hand_over(work: Workplace, aircraft: str, *, with_private: bool = False) -> HandedOver:
    """Put everything about one aircraft into a bag, and say so in its logbook.

    Parameters
    ----------
    with_private
        Home position, binding keys and names too; then the aircraft can be worked on elsewhere as here.
    """
    kept.aircraft(work.store, aircraft)
    private = None if with_private else private_of(work.store, aircraft)
    payload: dict[str, bytes] = {}
    originals: dict[str, Original] = {}
    index = []
    left_out: list[str] = list(private.says) if private else []
    for document in _documents(work.store, aircraft):
        if private is not None and document.kind in WHOLE_KINDS:
            left_out.append(f"{document.kind} {document.id} revision {document.revision}: holds values")
            continue
        body = document.body
        if private is not None:
            body, more = _reduced(work.store, document, private, payload)
            originals.update({original.sha256: original for original in more})
        elif document.kind in ("record", "refit", "release"):
            for original in _originals_of(document):
                originals[original.sha256] = original
                payload[f"originals/{original.sha256}"] = work.store.original(original.sha256)
        payload[f"documents/{document.kind}/{document.id}/{document.revision}.json"] = body
        index.append(
            {
                "kind": document.kind,
                "id": document.id,
                "revision": document.revision,
                "sha256": document.sha256,
                "at": document.at,
                "is_reduced": body != document.body,
            }
        )
    entries = work.store.book(aircraft)
    payload[BOOK] = _lines(_entry(entry, private) for entry in entries)
    payload[DOCUMENTS] = _lines(index)
    payload[ORIGINALS] = _lines(asdict(original) for original in originals.values())
    about = {
        "layout": 1,
        "aircraft": aircraft,
        "at": work.clock.now(),
        "with_private": with_private,
        "left_out": left_out,
        "last_hash": entries[-1].hash if entries else "",
    }
    payload[ABOUT] = _json(about)
    files = bag.make(payload, {"External-Identifier": aircraft, "Bagging-Date": work.clock.now()[:10]})
    with work.store.transaction() as tx:
        tx.log(
            aircraft,
            "hand-over",
            {
                "with_private": with_private,
                "documents": len(index),
                "originals": len(originals),
                "left_out": len(left_out),
                "last_hash": about["last_hash"],
            },
        )
    return HandedOver(aircraft, files, len(index), len(originals), len(entries), tuple(left_out))


def _documents(store: Store, aircraft: str) -> Iterator[Document]:
    """Every revision of every document about an aircraft, and the releases it names."""
    yield from store.revisions("aircraft", aircraft)
    releases: set[str] = set()
    for entry in kept.record_entries(store, aircraft):
        yield from store.revisions("record", str(entry.body["id"]))
        releases.add(str(entry.body.get("release") or ""))
    for found in kept.refits(store, aircraft):
        refit = found.refit
        releases |= {refit.to_release, refit.from_release or ""}
        yield from store.revisions("refit", refit.id)
        for provisional in (True, False):
            yield from store.revisions("plan", kept.plan_id(refit, provisional=provisional))
        if refit.source is not None:
            yield from store.revisions("record", refit.source)
    for release in sorted(releases - {""}):
        latest = store.document("release", release)
        if latest is not None:
            yield latest


def _originals_of(document: Document) -> tuple[Original, ...]:
    if document.kind == "record":
        return documents.load(document.body, Record).originals
    if document.kind == "refit":
        refit = documents.load(document.body, Refit)
        made = refit.write_out
        written = (made.listing, made.back_listing, made.back_original) if made else ()
        return (*refit.notes, *written)
    from asflown.core.catalog import Release

    return documents.load(document.body, Release).originals


def _reduced(
    store: Store, document: Document, private: Private, payload: dict[str, bytes]
) -> tuple[bytes, list[Original]]:
    """A document without what is private, and the originals that go with it."""
    if document.kind == "aircraft":
        aircraft = documents.load(document.body, Aircraft)
        return documents.dump(replace(aircraft, owner=None, remarks=None)), []
    originals = []
    body = document.body
    if document.kind == "record":
        record = documents.load(document.body, Record)
        reduced, listing = reduced_record(store, record, private)
        for data in listing:
            payload[f"originals/{reduced.originals[0].sha256}"] = data
        originals = list(reduced.originals)
        body = documents.dump(reduced)
    else:
        for original in _originals_of(document):
            payload[f"originals/{original.sha256}"] = store.original(original.sha256)
            originals.append(original)
    return body, originals


def _entry(entry: Entry, private: Private | None) -> dict[str, Any]:
    whole = asdict(entry)
    if private is None:
        return whole
    shown = private.without_names(whole)
    if shown != whole:
        shown["is_reduced"] = True  # its hash cannot be made anew, its links can
    return dict(shown)


def _json(body: object) -> bytes:
    return (json.dumps(body, ensure_ascii=False, sort_keys=True) + "\n").encode()


def _lines(bodies: Iterator[dict[str, Any]] | list[dict[str, Any]]) -> bytes:
    return b"".join(_json(body) for body in bodies)
