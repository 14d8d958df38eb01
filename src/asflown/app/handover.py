"""Hand one aircraft over as a self-checking bag, and take in what was handed over."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from asflown.app import kept
from asflown.app.needs import Document, Store, Transaction
from asflown.app.private import Private, private_of, reduced_record
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.logbook import ChainFault, Entry, check_chain
from asflown.core.record import Original, Record
from asflown.core.refit import Refit
from asflown.errors import Damaged, Fault, InputError, UsageError
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


@dataclass(frozen=True)
class Received:
    """What was taken in.

    Attributes
    ----------
    were_there
        Documents that were here already, the same.
    last_hash
        Hash of the last entry of the logbook that came with it.
    """

    aircraft: str
    documents: int
    originals: int
    entries: int
    were_there: int
    last_hash: str
    left_out: tuple[str, ...]


# ------------------------------------------------------------------------------------ hand over


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


# ------------------------------------------------------------------------------------ receive


def receive(work: Workplace, files: Mapping[str, bytes], name: str) -> Received:
    """Check a bag and take in what it holds; all of it or nothing.

    Raises
    ------
    Damaged
        When the bag, its logbook or a document is not whole.
    UsageError
        When this store knows the aircraft already, otherwise.
    """
    payload = bag.check(files, name)
    about = _read_json(payload, ABOUT, name)
    aircraft = str(about.get("aircraft", ""))
    entries = [_read_entry(line) for line in _read_lines(payload, BOOK, name)]
    _check_chain(entries, aircraft, name)
    index = _read_lines(payload, DOCUMENTS, name)
    _check_documents(payload, index, name)
    if work.store.document("aircraft", aircraft) is not None or aircraft in work.store.books():
        raise UsageError(
            f"this store has an aircraft {aircraft!r} already; two logbooks are not made into one",
            where=name,
            next_step=f"take it into another store: asflown receive {name} --store FOLDER",
        )
    here = {
        (str(item["kind"]), str(item["id"]))
        for item in index
        if work.store.document(str(item["kind"]), str(item["id"])) is not None
    }
    with work.store.transaction() as tx:
        originals = _keep_originals(tx, payload, name)
        for item in index:
            kind, id = str(item["kind"]), str(item["id"])
            if (kind, id) not in here:  # what is here is never replaced
                tx.put(kind, id, payload[_path_of(item)])
        _log(tx, aircraft, entries, about, payload)
    work.store.remember(kept.CURRENT, aircraft)
    return Received(
        aircraft,
        len(index),
        originals,
        len(entries),
        sum((str(item["kind"]), str(item["id"])) in here for item in index),
        str(about.get("last_hash", "")),
        tuple(map(str, about.get("left_out", ()))),
    )


def _read_json(payload: Mapping[str, bytes], path: str, name: str) -> dict[str, Any]:
    lines = _read_lines(payload, path, name)
    if len(lines) != 1:
        raise InputError(f"{path} does not hold one object", where=name, next_step="ask for it again")
    return lines[0]


def _read_lines(payload: Mapping[str, bytes], path: str, name: str) -> list[dict[str, Any]]:
    if path not in payload:
        raise InputError(
            f"is a bag, but not one of asflown: data/{path} is missing",
            where=name,
            next_step="give a folder or zip that asflown handover made",
        )
    try:
        lines = [json.loads(line) for line in payload[path].decode("utf-8").splitlines()]
    except ValueError as error:
        raise InputError(
            f"data/{path} is no JSON: {error}", where=name, next_step="ask for it again"
        ) from error
    if not all(isinstance(line, dict) for line in lines):
        raise InputError(f"data/{path} does not hold objects", where=name, next_step="ask for it again")
    return lines


@dataclass(frozen=True)
class _Came:
    """A logbook entry that came with a bag; a reduced one cannot be hashed anew."""

    entry: Entry
    is_reduced: bool


def _read_entry(line: dict[str, Any]) -> _Came:
    fields = ("book", "number", "kind", "version", "at", "who", "body", "previous", "hash")
    missing = [field for field in fields if field not in line]
    if missing:
        raise InputError(f"a logbook entry lacks {', '.join(missing)}", next_step="ask for it again")
    return _Came(Entry(**{field: line[field] for field in fields}), bool(line.get("is_reduced")))


def _check_chain(came: list[_Came], aircraft: str, name: str) -> None:
    """Every link, and every hash that can be made anew; the book must be the aircraft's own."""
    reduced = {one.entry.number for one in came if one.is_reduced}
    faults = [
        fault for fault in check_chain(one.entry for one in came) if not _is_only_reduced(fault, reduced)
    ]
    faults += [
        ChainFault(one.entry.book, one.entry.number, f"is of the book {one.entry.book!r}")
        for one in came
        if one.entry.book != aircraft
    ]
    if faults:
        raise Damaged(
            "the logbook that came with it does not hold",
            where=name,
            faults=tuple(Fault(fault.what, f"entry {fault.number}") for fault in faults[:50]),
            next_step="ask for it again; nothing was taken in",
        )


def _is_only_reduced(fault: ChainFault, reduced: set[int]) -> bool:
    return fault.number in reduced and fault.what == "was changed after it was written"


def _path_of(item: Mapping[str, Any]) -> str:
    return f"documents/{item.get('kind')}/{item.get('id')}/{item.get('revision')}.json"


def _check_documents(payload: Mapping[str, bytes], index: list[dict[str, Any]], name: str) -> None:
    from asflown.core.catalog import Release
    from asflown.core.plan import Plan

    types: Mapping[str, type] = {
        "aircraft": Aircraft,
        "record": Record,
        "release": Release,
        "refit": Refit,
        "plan": Plan,
    }
    faults = []
    for item in index:
        body, kind = payload.get(_path_of(item)), types.get(str(item.get("kind")))
        if body is None or kind is None:
            faults.append(Fault("is named and missing, or of no known kind", _path_of(item)))
            continue
        documents.load(body, kind)
    if faults:
        raise Damaged(
            "is not whole",
            where=name,
            faults=tuple(faults),
            next_step="ask for it again; nothing was taken in",
        )


def _keep_originals(tx: Transaction, payload: Mapping[str, bytes], name: str) -> int:
    lines = _read_lines(payload, ORIGINALS, name)
    for line in lines:
        data = payload.get(f"originals/{line.get('sha256')}")
        if data is None:
            raise Damaged(
                f"the original {line.get('name')} is named and missing",
                where=name,
                next_step="ask for it again",
            )
        tx.keep(data, name=str(line.get("name")), kind=str(line.get("kind")))
    return len(lines)


def _log(
    tx: Transaction,
    aircraft: str,
    came: list[_Came],
    about: Mapping[str, Any],
    payload: Mapping[str, bytes],
) -> None:
    """Take the logbook in: entry by entry when it is whole, else as an original with what is needed here."""
    is_whole = not any(one.is_reduced for one in came)
    body: dict[str, Any] = {
        "id": aircraft,
        "entries": len(came),
        "last_hash": about.get("last_hash"),
        "with_private": about.get("with_private"),
        "left_out": len(about.get("left_out", ())),
    }
    if is_whole:
        for one in came:
            tx.append(one.entry)
    else:
        body["logbook"] = tx.keep(payload[BOOK], name=f"{aircraft}-logbook.jsonl", kind="logbook").sha256
    for _ in range(max((int(one.entry.body.get("sheet") or 0) for one in came), default=0)):
        tx.next_sheet(aircraft)
    tx.log(aircraft, "received", body)
    if not is_whole:
        for one in came:
            if one.entry.kind == "record":
                facts = {key: value for key, value in one.entry.body.items() if key != "sha256"}
                tx.log(aircraft, "record", {**facts, "received": one.entry.hash})
