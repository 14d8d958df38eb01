"""Take in what was handed over: all of it or nothing."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from asflown.app import kept
from asflown.app.handover import ABOUT, BOOK, DOCUMENTS, ORIGINALS
from asflown.app.needs import Transaction
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.logbook import ChainFault, Entry, check_chain
from asflown.core.record import Record
from asflown.core.refit import Refit
from asflown.errors import Damaged, Fault, InputError, UsageError
from asflown.formats import bag, documents


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
